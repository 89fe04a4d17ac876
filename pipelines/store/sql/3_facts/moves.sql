-- One row a move that counts: on the giver's word; on the receiver's where the giver is outside the area or sent no
-- submission for that week. Sources: accepted.moves, facts.submitted.
with told as (
    select
        case direction when 'out' then troop else other_troop end as giver,
        case direction when 'out' then other_troop else troop end as receiver,
        direction, item, packages, date as moved_on, week_ending, file_no, sheet, row_no
    from accepted.moves
),
spoke as (
    select troop, week_ending from facts.submitted
    union by name
    select giver as troop, week_ending from told where direction = 'out'
)
select told.*
from told
left join spoke on spoke.troop = told.giver and spoke.week_ending = told.week_ending
where told.direction = 'out' or told.giver = 'outside' or spoke.troop is null
