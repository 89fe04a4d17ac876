-- One row an asked day, troop and participant (`troop`, the own page, included) with a row in Families, a counted order
-- or an adjustment, or whose cheque came back. Sources: measures.points, facts.family_weeks, facts.entries,
-- accepted.adjustments.
select p.as_of, p.troop, f.participant
from measures.points p
join facts.family_weeks f on f.troop = p.troop and f.week_ending <= p.as_of
where p.is_asked
union by name
select p.as_of, p.troop, e.participant
from measures.points p
join facts.entries e on e.troop = p.troop and e.on_day <= p.as_of and e.table_name = 'online_orders'
where p.is_asked
group by p.as_of, p.troop, e.participant
having sum(case when e.kind in ('remote_order', 'hand_order') then 1 else -1 end) > 0
union by name
select p.as_of, p.troop, j.participant
from measures.points p
join accepted.adjustments j on j.troop = p.troop and j.date <= p.as_of and j.participant is not null
where p.is_asked
union by name
select p.as_of, p.troop, e.participant
from measures.points p
join facts.entries e on e.troop = p.troop and e.on_day <= p.as_of and e.kind = 'family_cheque_back'
where p.is_asked
