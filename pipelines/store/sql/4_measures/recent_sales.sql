-- One row an asked day, troop and item: packages out of stock in the last n <= 3 weeks submitted by that day.
-- Sources: measures.points, facts.submitted, facts.entries, season.items.
with recent as (
    select p.as_of, p.troop, s.week_ending
    from measures.points p
    join facts.submitted s on s.troop = p.troop and s.week_ending <= p.as_of
    where p.is_asked
    qualify row_number() over (partition by p.as_of, p.troop order by s.week_ending desc) <= 3
),
numbered as (
    select *, count(*) over (partition by as_of, troop) as weeks
    from recent
)
select n.as_of, n.troop, i.code as item, n.weeks, coalesce(sum(e.packages), 0)::bigint as sold
from numbered n
cross join season.items i
left join facts.entries e on e.troop = n.troop and e.on_day = n.week_ending and e.item = i.code
    and e.kind in ('hand_out', 'bring_back', 'stall_sale', 'donation_out', 'donation_back', 'donation_stall')
group by all
