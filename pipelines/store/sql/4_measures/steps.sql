-- One row an asked day and troop: how many of the registered have come how far along the path (each step holds only those
-- who made every step before it, so that none has more than the one before), and the spread of packages among those
-- who take part. top_tenth_packages: of the tenth of them (at least one) with the most packages.
-- Sources: measures.participants, measures.standing.
with along as (
    select
        *, is_registered and has_contact as at_contact, at_contact and goal > 0 as at_goal,
        at_goal and is_page_open as at_page, at_page and people_told > 0 as at_told, at_told and has_sold as at_sale,
        at_sale and is_goal_met as at_goal_met
    from measures.participants
),
reached as (
    select
        as_of, troop,
        count(*) filter (is_registered) as step_registered,
        count(*) filter (at_contact) as step_contact,
        count(*) filter (at_goal) as step_goal,
        count(*) filter (at_page) as step_page,
        count(*) filter (at_told) as step_told,
        count(*) filter (at_sale) as step_first_sale,
        count(*) filter (at_goal_met) as step_goal_met,
        coalesce(sum(goal), 0) as goal,
        coalesce(sum(packages) filter (goal > 0), 0) as goal_packages,
        median(packages) filter (is_taking_part) as median_per_active
    from along
    group by all
),
ranked as (
    select
        as_of, troop, packages,
        row_number() over (partition by as_of, troop order by packages desc, participant) as place,
        count(*) over (partition by as_of, troop) as sellers
    from measures.participants
    where is_taking_part
),
top as (
    select as_of, troop, sum(packages) as all_packages, sum(packages) filter (place <= ceil(sellers / 10.0)) as top_packages
    from ranked
    group by all
)
select
    s.as_of, s.troop,
    coalesce(r.step_registered, 0)::bigint as step_registered,
    coalesce(r.step_contact, 0)::bigint as step_contact,
    coalesce(r.step_goal, 0)::bigint as step_goal,
    coalesce(r.step_page, 0)::bigint as step_page,
    coalesce(r.step_told, 0)::bigint as step_told,
    coalesce(r.step_first_sale, 0)::bigint as step_first_sale,
    coalesce(r.step_goal_met, 0)::bigint as step_goal_met,
    coalesce(r.goal, 0)::bigint as goal,
    coalesce(r.goal_packages, 0)::bigint as goal_packages,
    r.median_per_active,
    coalesce(t.all_packages, 0)::bigint as participants_packages,
    coalesce(t.top_packages, 0)::bigint as top_tenth_packages
from measures.standing s
left join reached r on r.as_of = s.as_of and r.troop = s.troop
left join top t on t.as_of = s.as_of and t.troop = s.troop
