-- One row an asked day, stall of a troop and participant who worked it, of whatever troop: how the stall's packages were
-- shared. troop: whose stall it was. Sources: measures.points, facts.stall_credit.
select p.as_of, p.troop, c.* exclude (troop, at_troop)
from measures.points p
join facts.stall_credit c on c.at_troop = p.troop and c.week_ending <= p.as_of
where p.is_asked
