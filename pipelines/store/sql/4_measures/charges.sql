-- One row a point: what is charged, the proceeds with their tier, what is credited, what is owed.
-- Sources: measures.points, measures.item_points, measures.participant_points, facts.money_events, facts.troops,
-- season.tiers, season.rules.
with packages as (
    select
        as_of, troop,
        sum(available) as available, sum(sold_from_stock) as sold_from_stock, sum(remote) as remote,
        sum(available * price)::decimal(18, 2) as available_value,
        sum(remote_value)::decimal(18, 2) as remote_value,
        sum(by_hand_value)::decimal(18, 2) as by_hand_value
    from measures.item_points
    group by all
),
people as (
    select
        as_of, troop,
        count(*) filter (is_registered) as registered,
        count(*) filter (is_taking_part) as taking_part,
        count(*) filter (is_registered and is_taking_part) as registered_taking_part
    from measures.participant_points
    group by all
),
money as (
    select
        p.as_of, p.troop,
        sum(e.cash) as cash, sum(e.card) as card, sum(e.banked) as banked, sum(e.remitted) as remitted,
        sum(e.adjustments) as adjustments, sum(e.settled) as settled,
        sum(e.stall_sold_value) as stall_sold_value, sum(e.stall_takings) as stall_takings
    from measures.points p
    join facts.money_events e on e.troop = p.troop and e.on_day <= p.as_of
    group by all
),
joined as (
    select
        p.as_of, p.troop, p.is_asked,
        k.available::bigint as available, k.sold_from_stock::bigint as sold_from_stock, k.remote::bigint as remote,
        (k.sold_from_stock + k.remote)::bigint as packages_sold,
        k.available_value, k.remote_value, k.by_hand_value,
        coalesce(w.registered, 0)::bigint as registered,
        coalesce(w.taking_part, 0)::bigint as taking_part,
        coalesce(w.registered_taking_part, 0)::bigint as registered_taking_part,
        coalesce(t.divisor, case r.proceeds_per when 'taking_part' then w.taking_part else w.registered end, 0)
            ::integer as divisor,
        t.extra_rate,
        coalesce(m.cash, 0)::decimal(18, 2) as cash,
        coalesce(m.card, 0)::decimal(18, 2) as card,
        coalesce(m.banked, 0)::decimal(18, 2) as banked,
        coalesce(m.remitted, 0)::decimal(18, 2) as remitted,
        coalesce(m.adjustments, 0)::decimal(18, 2) as adjustments,
        coalesce(m.settled, 0)::decimal(18, 2) as settled,
        coalesce(m.stall_sold_value, 0)::decimal(18, 2) as stall_sold_value,
        coalesce(m.stall_takings, 0)::decimal(18, 2) as stall_takings
    from measures.points p
    cross join season.rules r
    join facts.troops t on t.troop = p.troop
    join packages k on k.as_of = p.as_of and k.troop = p.troop
    left join people w on w.as_of = p.as_of and w.troop = p.troop
    left join money m on m.as_of = p.as_of and m.troop = p.troop
),
tiered as (
    -- The last tier whose start is not above packages_sold / divisor, compared without dividing.
    select j.as_of, j.troop, max(s.tier_no) as tier_no
    from joined j
    join season.tiers s on s.tier_no = 1 or (j.divisor > 0 and s.from_average * j.divisor <= j.packages_sold)
    group by all
),
rated as (
    select j.*, x.tier_no, (s.rate + j.extra_rate)::decimal(9, 4) as proceeds_rate
    from joined j
    join tiered x on x.as_of = j.as_of and x.troop = j.troop
    join season.tiers s on s.tier_no = x.tier_no
),
charged as (
    select
        *,
        (available_value + remote_value)::decimal(18, 2) as charged,
        (remote_value + by_hand_value)::decimal(18, 2) as paid_online,
        round(proceeds_rate * (available + remote), 2)::decimal(18, 2) as proceeds
    from rated
)
select
    *,
    (paid_online + remitted + adjustments)::decimal(18, 2) as credits,
    (charged - proceeds - paid_online - remitted - adjustments)::decimal(18, 2) as owed
from charged
