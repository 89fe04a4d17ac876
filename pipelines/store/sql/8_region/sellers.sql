-- One row a published week and kind of participant: how many have just so many packages in all, so many sold while taking
-- part, and such a goal. Medians, top tenths and goals follow from it exactly; it names nobody. Who changed troops is one
-- participant, as in the area. Sources: measures.participants.
with people as (
    select
        as_of, person, sum(packages)::bigint as packages,
        coalesce(sum(packages) filter (is_taking_part), 0)::bigint as sold,
        bool_or(is_taking_part) as is_taking_part,
        coalesce(arg_max(goal, joined_on) filter (goal > 0), any_value(goal)) as goal
    from measures.participants
    group by all
)
select as_of, packages, sold, is_taking_part, goal, count(*)::bigint as people
from people
group by all
order by as_of, packages, sold, is_taking_part, goal
