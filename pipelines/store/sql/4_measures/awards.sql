-- One row an asked day, troop, participant and award that is open to the participant: of the troop's level, not earned in
-- an earlier season, and the one that comes before it, if any, earned then or now. missing: the steps, or how many
-- packages. Sources: measures.award_points.
with recursive open as (
    select *, is_met and is_of_level and not was_before as is_earned, is_of_level and not was_before as is_open
    from measures.award_points
    where after is null
    union all
    select
        p.*, p.is_met and p.is_of_level and not p.was_before and (o.is_earned or o.was_before) as is_earned,
        p.is_of_level and not p.was_before and (o.is_earned or o.was_before) as is_open
    from measures.award_points p
    join open o on o.as_of = p.as_of and o.troop = p.troop and o.participant = p.participant and o.award = p.after
),
listed as (
    select
        *, list_filter(range(1, coalesce(steps, 0) + 1), lambda n: not list_contains(done, n)) as to_do,
        case when packages is not null then greatest(packages - progress, 0) end as lacking
    from open
    where is_open
)
select
    as_of, troop, participant, award, title, award_no, steps_done, steps, packages, progress, done,
    case when is_earned then met_on end as earned_on, handed_on,
    case
        when is_earned then 'earned'
        when array_length(to_do) = 1 or lacking <= near then 'one away'
        when steps_done > 0 or (packages is not null and progress > 0) then 'begun'
        else 'open'
    end as state,
    case when is_earned then '' when packages is null then array_to_string(to_do, ' ') else lacking::varchar end as missing
from listed
