-- One row an asked day, troop and item: packages out of stock in the last n <= 3 weeks submitted by that day.
-- Sources: measures.points, facts.submitted, facts.item_events.
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
select n.as_of, n.troop, e.item, n.weeks, sum(e.handed_out + e.stall) as sold
from numbered n
join facts.item_events e on e.troop = n.troop and e.on_day = n.week_ending
group by all
