-- One row a participant, award and week that tells of its steps: those done so far. A later week's row replaces it, in
-- whatever troop it is told; one without any step, which only says that the award was handed over, replaces nothing.
-- Sources: accepted.awards, season.awards.
select
    t.participant, t.award, t.week_ending as from_on, list_filter(t.steps, lambda n: n <= a.steps) as done
from accepted.awards t
join season.awards a on a.code = t.award and a.steps is not null
where array_length(t.steps) > 0
