-- One row an asked day and item: the whole area's packages. weeks_of_supply divides what is on hand by what leaves all
-- troops' stock in a week, at the pace of each troop's last weeks.
-- Sources: measures.item_total_sums, measures.recent_sales, season.items.
with pace as (
    -- Of 1, 2 or 3 weeks each: in sixths, so that the sum is the same in whatever order it is taken.
    select as_of, item, sum(sold * 6 // weeks)::double / 6 as sold_a_week
    from measures.recent_sales
    group by all
)
select
    t.*, i.item_no, i.title, i.packages_per_case, p.sold_a_week,
    case when t.is_stocked and p.sold_a_week > 0 then t.on_hand_or_expected / p.sold_a_week end as weeks_of_supply
from measures.item_total_sums t
join season.items i on i.code = t.item
left join pace p on p.as_of = t.as_of and p.item = t.item
