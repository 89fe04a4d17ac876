-- One row an asked day: the whole area. Sources: measures.area_sums, measures.participants, measures.pace.
with ranked as (
    select
        as_of, packages,
        row_number() over (partition by as_of order by packages desc, troop, participant) as place,
        count(*) over (partition by as_of) as sellers
    from measures.participants
    where is_taking_part
),
spread as (
    select
        as_of, median(packages) as median_per_active,
        sum(packages) filter (place <= ceil(sellers / 10.0))::bigint as top_tenth_packages
    from ranked
    group by all
)
select
    a.*, s.median_per_active, coalesce(s.top_tenth_packages, 0) as top_tenth_packages,
    p.last_season, p.matched_now, p.matched_then, p.matched_troops
from measures.area_sums a
left join spread s on s.as_of = a.as_of
left join measures.pace p on p.as_of = a.as_of
