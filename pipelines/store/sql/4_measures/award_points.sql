-- One row an asked day, troop, participant and award of the season: what speaks for it, whether or not it is open.
-- is_met: all its steps done, or enough packages; met_on: since when. was_before: earned in an earlier season. Looks
-- beyond one troop's rows: steps count wherever they were told.
-- Sources: chosen.days, measures.points, measures.participant_points, measures.progress, facts.progress, facts.award_steps,
-- accepted.awards, accepted.awards_before, facts.troops, season.awards.
with steps as (
    select
        d.as_of, s.participant, s.award, arg_max(s.done, s.from_on) as done,
        min(s.from_on) filter (array_length(s.done) = a.steps) as last_on
    from chosen.days d
    join facts.award_steps s on s.from_on <= d.as_of
    join season.awards a on a.code = s.award
    group by all
),
handed as (
    select d.as_of, h.participant, h.award, min(h.handed_on) as handed_on
    from chosen.days d
    join accepted.awards h on h.week_ending <= d.as_of
    where h.handed_on is not null
    group by all
),
reached as (  -- the first day on which the packages were enough
    select p.as_of, f.troop, f.participant, a.code as award, min(f.from_on) as since
    from measures.points p
    join facts.progress f on f.troop = p.troop and f.from_on <= p.as_of
    join season.awards a on f.progress >= a.packages
    where p.is_asked
    group by all
),
before as (
    select distinct participant, award from accepted.awards_before
)
select
    w.as_of, w.troop, w.participant, a.code as award, a.title, a.award_no, a.depth, a.after, a.steps, a.packages, a.near,
    coalesce(s.done, []) as done, array_length(coalesce(s.done, []))::bigint as steps_done, w.progress,
    b.award is not null as was_before,
    array_length(a.levels) = 0 or list_contains(a.levels, t.level) as is_of_level,
    case when a.packages is null then array_length(coalesce(s.done, [])) >= a.steps else w.progress >= a.packages end as is_met,
    case when a.packages is null then s.last_on else r.since end as met_on,
    h.handed_on
from measures.progress w
join measures.participant_points e on e.as_of = w.as_of and e.troop = w.troop and e.participant = w.participant
join facts.troops t on t.troop = w.troop
cross join season.awards a
left join steps s on s.as_of = w.as_of and s.participant = w.participant and s.award = a.code
left join reached r on r.as_of = w.as_of and r.troop = w.troop and r.participant = w.participant and r.award = a.code
left join handed h on h.as_of = w.as_of and h.participant = w.participant and h.award = a.code
left join before b on b.participant = w.participant and b.award = a.code
where e.is_registered or e.is_taking_part
