-- One row a point and participant that is registered or did something: whether registered, whether taking part.
-- `troop`, the troop's own page, is no person and stands in no row.
-- Sources: measures.points, accepted.roster, facts.family_weeks, facts.entries, facts.stall_workers.
with did as (
    select p.as_of, p.troop, f.participant, sum(f.taken - f.brought_back) as packages, 0 as orders, 0 as stalls
    from measures.points p
    join facts.family_weeks f on f.troop = p.troop and f.week_ending <= p.as_of
    group by all
    union all by name
    select p.as_of, p.troop, e.participant, 0 as packages,
        sum(case when e.kind in ('remote_order', 'hand_order') then 1 else -1 end) as orders, 0 as stalls
    from measures.points p
    join facts.entries e on e.troop = p.troop and e.on_day <= p.as_of and e.table_name = 'online_orders'
    group by all
    union all by name
    select p.as_of, p.troop, w.participant, 0 as packages, 0 as orders, 1 as stalls
    from measures.points p
    join facts.stall_workers w on w.troop = p.troop and w.week_ending <= p.as_of
),
taking_part as (
    select as_of, troop, participant, sum(packages) > 0 or sum(orders) > 0 or sum(stalls) > 0 as is_taking_part
    from did
    where participant <> 'troop'
    group by as_of, troop, participant
),
registered as (
    select p.as_of, p.troop, r.participant
    from measures.points p
    join accepted.roster r on r.troop = p.troop and r.registered_on <= p.as_of
        and (r.left_on is null or r.left_on > p.as_of)
)
select
    coalesce(t.as_of, r.as_of) as as_of,
    coalesce(t.troop, r.troop) as troop,
    coalesce(t.participant, r.participant) as participant,
    r.participant is not null as is_registered,
    coalesce(t.is_taking_part, false) as is_taking_part
from taking_part t
full join registered r on r.as_of = t.as_of and r.troop = t.troop and r.participant = t.participant
