-- One row a troop and day on which something changed, [from_on, until_on): what all its participants, its own page and
-- its stalls come to (each package once, whoever is credited for a stall), the troop's own goal (`troop` in Goals), how
-- often it was raised, and whether it was met by then. Sources: facts.progress, facts.stalls.
with changes as (
    select troop, from_on as on_day,
        progress - stall_credit
            - coalesce(lag(progress - stall_credit) over (partition by troop, participant order by from_on), 0) as packages,
        case when participant = 'troop' then goal end as goal
    from facts.progress
    union all by name
    select troop, week_ending as on_day, packages, null as goal
    from facts.stalls
),
days as (
    select troop, on_day, sum(packages) as packages, max(goal) as goal
    from changes
    group by all
),
so_far as (
    select
        troop, on_day as from_on, lead(on_day) over (partition by troop order by on_day) as until_on,
        sum(packages) over upto as packages, coalesce(last_value(goal ignore nulls) over upto, 0) as goal
    from days
    window upto as (partition by troop order by on_day)
),
raised as (
    select *, lag(goal) over (partition by troop order by from_on) as before,
        before > 0 and goal > before as is_raised
    from so_far
)
select
    troop, from_on, until_on, packages::bigint as packages, goal::bigint as goal,
    count(*) filter (is_raised) over upto as goals_raised,
    coalesce(bool_or((goal > 0 and packages >= goal) or (is_raised and packages >= before)) over upto, false) as is_goal_met
from raised
window upto as (partition by troop order by from_on)
