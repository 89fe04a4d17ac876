-- One row a participant who worked a stall, of the own troop or of another one, and the week that says so first.
-- Sources: facts.stall_work.
select troop, participant, min(week_ending) as week_ending
from facts.stall_work
group by all
