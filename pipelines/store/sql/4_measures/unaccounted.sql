-- One row an asked day, troop and item that was counted and is not as expected. waiting: the part that is explained by
-- what the troop says it received where the supply feed says otherwise, in the weeks submitted; unexplained: the rest.
-- Both have the sign of missing. Sources: measures.items, accepted.stock, accepted.supply, facts.submitted, season.rules.
with off as (
    select as_of, troop, item, price, missing
    from measures.items
    where missing <> 0
),
received as (
    select o.as_of, o.troop, o.item, sum(c.received) as received
    from off o
    join accepted.stock c on c.troop = o.troop and c.item = o.item and c.week_ending <= o.as_of
    group by all
),
by_week as (
    select
        p.troop, p.item, p.date, p.packages,
        r.first_week_ending + 7 * greatest(0, ceil(date_diff('day', r.first_week_ending, p.date) / 7)::integer) as week_ending
    from accepted.supply p
    cross join season.rules r
    where p.kind in ('opening', 'depot')
),
recorded as (
    select o.as_of, o.troop, o.item, sum(w.packages) as recorded
    from off o
    join by_week w on w.troop = o.troop and w.item = o.item and w.date <= o.as_of
    join facts.submitted b on b.troop = w.troop and b.week_ending = w.week_ending
    group by all
),
differs as (
    select
        o.*, coalesce(r.received, 0)::bigint as received, coalesce(s.recorded, 0)::bigint as recorded,
        case when r.received > 0 then coalesce(s.recorded, 0) - r.received else 0 end::integer as explained
    from off o
    left join received r using (as_of, troop, item)
    left join recorded s using (as_of, troop, item)
),
parted as (
    select
        *,
        case when sign(explained) = sign(missing) then sign(missing) * least(abs(explained), abs(missing)) else 0 end
            ::integer as waiting
    from differs
)
select as_of, troop, item, price, missing, received, recorded, waiting, missing - waiting as unexplained
from parted
