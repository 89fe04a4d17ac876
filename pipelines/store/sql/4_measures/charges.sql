-- One row a point: who takes part, the rate of the tier that is reached, the proceeds. Sources: measures.troop_sums,
-- measures.participant_points, facts.troops, season.tiers, season.rules.
with people as (
    select
        as_of, troop,
        count(*) filter (is_registered) as registered,
        count(*) filter (is_taking_part) as taking_part,
        count(*) filter (is_registered and is_taking_part) as registered_taking_part
    from measures.participant_points
    group by all
),
joined as (
    select
        s.*,
        coalesce(w.registered, 0)::bigint as registered,
        coalesce(w.taking_part, 0)::bigint as taking_part,
        coalesce(w.registered_taking_part, 0)::bigint as registered_taking_part,
        coalesce(t.divisor, case r.proceeds_per when 'taking_part' then w.taking_part else w.registered end, 0)
            ::integer as divisor,
        t.extra_rate
    from measures.troop_sums s
    cross join season.rules r
    join facts.troops t on t.troop = s.troop
    left join people w on w.as_of = s.as_of and w.troop = s.troop
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
)
select *, round(proceeds_rate * packages_charged, 2)::decimal(18, 2) as proceeds
from rated
