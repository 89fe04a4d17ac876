-- One row an asked day, troop, participant, stocked item and order that the participant is to deliver (order_no empty:
-- promised on paper): its packages, and how many of them the participant still has to fetch from the troop. What was
-- taken is held against orders already delivered, then promises on paper, then orders by their day. With as_of
-- 9999-12-31: of all that is known, whatever the day. Sources: chosen.days, facts.order_spans, accepted.promised,
-- accepted.families, season.items.
with days as (
    select as_of from chosen.days
    union all by name
    select date '9999-12-31' as as_of
),
newest as (
    select d.as_of, p.troop, p.participant, max(p.week_ending) as week_ending
    from days d
    join accepted.promised p on p.week_ending <= d.as_of
    group by all
),
wanted as (
    select
        d.as_of, s.troop, s.seller as participant, s."order" as order_no, s.item, s.placed_on,
        case s.state when 'done' then 1 else 3 end as turn, s.packages
    from days d
    join facts.order_spans s on s.is_paid_by_hand and s.from_on <= d.as_of
        and (s.until_on is null or s.until_on > d.as_of)
    union all by name
    select
        n.as_of, n.troop, n.participant, null as order_no, p.item, null as placed_on, 2 as turn, sum(p.packages) as packages
    from newest n
    join accepted.promised p using (troop, participant, week_ending)
    group by all
),
taken as (
    select d.as_of, f.troop, f.participant, f.item, greatest(sum(f.packages), 0) as packages
    from days d
    join accepted.families f on f.week_ending <= d.as_of and f.packages <> 0
    group by all
),
in_turn as (
    select
        w.as_of, w.troop, w.participant, w.order_no, w.item, w.placed_on, w.turn, w.packages,
        coalesce(t.packages, 0) as taken,
        sum(w.packages) over (
            partition by w.as_of, w.troop, w.participant, w.item
            order by w.turn, w.placed_on, w.order_no rows unbounded preceding
        ) as wanted_so_far
    from wanted w
    join season.items i on i.code = w.item and i.is_stocked
    left join taken t using (as_of, troop, participant, item)
    where w.packages > 0
),
lines as (
    select *, least(packages, greatest(wanted_so_far - taken, 0)) as to_fetch
    from in_turn
)
select
    as_of, troop, participant, order_no, item, placed_on, turn = 1 as is_delivered, packages::bigint as packages,
    to_fetch::bigint as to_fetch
from lines
where turn > 1 or to_fetch > 0
