-- One row a participant who worked a stall, and the week that says so first. Sources: accepted.stalls.
with worked as (
    select troop, week_ending, unnest(participants) as participant
    from accepted.stalls
)
select troop, participant, min(week_ending) as week_ending
from worked
where participant <> 'troop'
group by all
