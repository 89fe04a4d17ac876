-- One row an asked day, troop and item: packages of hand-delivered orders paid online that the families have not
-- taken from the troop yet. Sources: measures.points, facts.entries, accepted.families.
with ordered as (
    select
        p.as_of, p.troop, e.participant, e.item,
        sum(case e.kind when 'hand_order' then e.packages else -e.packages end) as by_hand
    from measures.points p
    join facts.entries e on e.troop = p.troop and e.on_day <= p.as_of and e.kind in ('hand_order', 'hand_order_undone')
    where p.is_asked
    group by all
    having by_hand > 0
),
taken as (
    select o.as_of, o.troop, o.participant, o.item, sum(f.packages) as packages
    from ordered o
    join accepted.families f on f.troop = o.troop and f.participant = o.participant and f.item = o.item
        and f.week_ending <= o.as_of
    group by all
)
select o.as_of, o.troop, o.item, sum(greatest(o.by_hand - greatest(coalesce(t.packages, 0), 0), 0))::bigint as needed
from ordered o
left join taken t using (as_of, troop, participant, item)
group by all
having sum(greatest(o.by_hand - greatest(coalesce(t.packages, 0), 0), 0)) > 0
