-- One row an asked day and troop that set a goal of its own: what it has come to. Sources: measures.points,
-- facts.troop_progress.
select p.as_of, p.troop, t.goal, t.packages, t.goals_raised, t.is_goal_met
from measures.points p
join facts.troop_progress t on t.troop = p.troop and t.from_on <= p.as_of and (t.until_on is null or t.until_on > p.as_of)
where p.is_asked and t.goal > 0
