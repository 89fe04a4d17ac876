-- One row an asked day, stall and participant who worked it: the packages of the stall that are the participant's.
-- troop: whose the participant is; at_troop: whose stall it was. Sources: measures.points, facts.stall_credit.
select p.as_of, c.*
from measures.points p
join facts.stall_credit c on c.troop = p.troop and c.week_ending <= p.as_of
where p.is_asked
