-- One row an asked day and item: the whole area's packages. A share is the ratio of sums; weeks_of_supply divides what is
-- on hand by what leaves all troops' stock in a week, at the pace of each troop's last weeks.
-- Sources: measures.items, measures.recent_sales, season.items.
with pace as (
    select as_of, item, sum(sold::double / weeks) as sold_a_week
    from measures.recent_sales
    group by all
),
total as (
    select
        as_of, item, price, is_stocked,
        sum(supplied)::bigint as supplied, sum(available)::bigint as available, sum(damaged)::bigint as damaged,
        sum(handed_out)::bigint as handed_out, sum(stall)::bigint as stall,
        sum(sold_from_stock)::bigint as sold_from_stock, sum(remote)::bigint as remote,
        sum(by_hand)::bigint as by_hand, sum(on_hand_or_expected)::bigint as on_hand_or_expected,
        coalesce(sum(missing), 0)::bigint as missing, count(missing)::bigint as troops_counted
    from measures.items
    group by all
)
select
    t.*, i.item_no, i.title, i.packages_per_case,
    t.sold_from_stock + t.remote as packages_sold,
    p.sold_a_week,
    case when t.is_stocked and t.available > 0 then t.sold_from_stock / t.available end as sell_through,
    case when t.is_stocked and p.sold_a_week > 0 then t.on_hand_or_expected / p.sold_a_week end as weeks_of_supply
from total t
join season.items i on i.code = t.item
left join pace p on p.as_of = t.as_of and p.item = t.item
