-- One row an asked day: the whole area. Who changed troops is one participant in it: packages of all troops, the goal of
-- the latest. Sources: measures.area_sums, measures.participants, measures.pace.
with people as (
    select
        as_of, person, sum(packages) as packages, sum(packages) filter (is_taking_part) as sold,
        bool_or(is_taking_part) as is_taking_part, coalesce(arg_max(goal, joined_on) filter (goal > 0), any_value(goal)) as goal
    from measures.participants
    group by all
),
counted as (
    select
        as_of, count(*) filter (is_taking_part) as taking_part, coalesce(sum(goal), 0)::bigint as goal,
        coalesce(sum(packages) filter (goal > 0), 0)::bigint as goal_packages
    from people
    group by all
),
ranked as (
    select
        as_of, sold,
        row_number() over (partition by as_of order by sold desc, person) as place,
        count(*) over (partition by as_of) as sellers
    from people
    where is_taking_part
),
spread as (
    select
        as_of, median(sold) as median_per_active,
        sum(sold) filter (place <= ceil(sellers / 10.0))::bigint as top_tenth_packages
    from ranked
    group by all
)
select
    a.*, coalesce(c.taking_part, 0) as taking_part, coalesce(c.goal, 0) as goal, coalesce(c.goal_packages, 0) as goal_packages,
    s.median_per_active, coalesce(s.top_tenth_packages, 0) as top_tenth_packages,
    p.last_season, p.matched_now, p.matched_then, p.matched_troops
from measures.area_sums a
left join counted c on c.as_of = a.as_of
left join spread s on s.as_of = a.as_of
left join measures.pace p on p.as_of = a.as_of
