-- One row a troop, participant and day on which something changed, [from_on, until_on): packages taken (less brought
-- back), promised on paper (the newest row's), posted and donated, and credited of stalls, all so far; the goal of the
-- day, how often it was raised, and whether a goal was met by then: one once met stays met, also one
-- that is met by the day on which it is raised. A promised package that is
-- taken counts once. `troop`, the own page, meets no goal here: see facts.troop_progress.
-- Sources: accepted.families, facts.entries, accepted.promised, facts.stall_credit, accepted.goals.
with promised as (
    select troop, participant, week_ending as on_day, sum(packages) as packages
    from accepted.promised
    where participant is not null
    group by all
),
changes as (
    select troop, participant, week_ending as on_day, 'taken' as what, sum(packages)::bigint as packages
    from accepted.families
    where participant is not null and packages <> 0
    group by all
    union all by name
    select troop, participant, on_day, 'promised' as what,
        (packages - coalesce(lag(packages) over (partition by troop, participant order by on_day), 0))::bigint as packages
    from promised
    union all by name
    select troop, participant, on_day, 'remote' as what,
        sum(case kind when 'remote_order' then packages else -packages end)::bigint as packages
    from facts.entries
    where kind in ('remote_order', 'remote_order_undone')
    group by all
    union all by name
    select troop, participant, week_ending as on_day, 'credit' as what, sum(packages)::bigint as packages
    from facts.stall_credit
    group by all
    union all by name
    select troop, participant, week_ending as on_day, 'goal' as what, goal::bigint as packages
    from accepted.goals
    where participant is not null
    union all by name
    select troop, participant, week_ending as on_day, 'elsewhere' as what, made_elsewhere::bigint as packages
    from accepted.goals
    where participant is not null
),
days as (
    select
        troop, participant, on_day, coalesce(sum(packages) filter (what = 'taken'), 0) as taken,
        coalesce(sum(packages) filter (what = 'promised'), 0) as promised,
        coalesce(sum(packages) filter (what = 'remote'), 0) as remote,
        coalesce(sum(packages) filter (what = 'credit'), 0) as credit,
        max(packages) filter (what = 'goal') as goal, max(packages) filter (what = 'elsewhere') as made_elsewhere
    from changes
    group by all
),
so_far as (
    select
        troop, participant, on_day as from_on,
        sum(taken) over upto as taken, sum(promised) over upto as promised, sum(remote) over upto as remote,
        sum(credit) over upto as stall_credit, last_value(goal ignore nulls) over upto as goal,
        last_value(made_elsewhere ignore nulls) over upto as made_elsewhere,
        lead(on_day) over (partition by troop, participant order by on_day) as until_on,
        greatest(sum(taken) over upto, sum(promised) over upto) + sum(remote) over upto
            + sum(credit) over upto as progress
    from days
    window upto as (partition by troop, participant order by on_day)
),
raised as (
    select *, lag(goal) over (partition by troop, participant order by from_on) as before,
        before > 0 and goal > before as is_raised
    from so_far
)
select
    troop, participant, from_on, until_on, taken::bigint as taken, promised::bigint as promised,
    remote::bigint as remote, stall_credit::bigint as stall_credit, progress::bigint as progress,
    coalesce(goal, 0)::bigint as goal, coalesce(made_elsewhere, 0)::bigint as made_elsewhere,
    count(*) filter (is_raised) over upto as goals_raised,
    participant <> 'troop'
        and coalesce(bool_or((goal > 0 and progress >= goal) or (is_raised and progress >= before)) over upto, false)
        as is_goal_met
from raised
window upto as (partition by troop, participant order by from_on)
