-- One row an asked day, troop and participant (`troop`, the own page, included) that is registered, did anything, or
-- has a goal, a promise or a credit: how far the participant has come.
-- Sources: measures.points, measures.participant_points, measures.family_points, facts.progress.
with everybody as (
    select p.as_of, p.troop, p.participant
    from measures.participant_points p
    join measures.points a on a.as_of = p.as_of and a.troop = p.troop and a.is_asked
    union by name
    select as_of, troop, participant from measures.family_points
    union by name
    select a.as_of, a.troop, f.participant
    from measures.points a
    join facts.progress f on f.troop = a.troop and f.from_on <= a.as_of
    where a.is_asked
)
select
    e.as_of, e.troop, e.participant, coalesce(f.taken, 0)::bigint as taken, coalesce(f.promised, 0)::bigint as promised,
    coalesce(f.remote, 0)::bigint as remote, coalesce(f.stall_credit, 0)::bigint as stall_credit,
    coalesce(f.progress, 0)::bigint as progress, coalesce(f.goal, 0)::bigint as goal,
    coalesce(f.goals_raised, 0)::bigint as goals_raised, coalesce(f.made_elsewhere, 0)::bigint as made_elsewhere,
    coalesce(f.is_goal_met, false) as is_goal_met
from everybody e
left join facts.progress f on f.troop = e.troop and f.participant = e.participant and f.from_on <= e.as_of
    and (f.until_on is null or f.until_on > e.as_of)
