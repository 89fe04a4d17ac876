-- One row a published week and troop: what of its standing and its path adds up. The columns are those that the area's
-- sums are made of. Sources: measures.standing, measures.steps.
select as_of, week_no, troop, {columns}
from measures.standing
join measures.steps using (as_of, troop)
order by as_of, troop
