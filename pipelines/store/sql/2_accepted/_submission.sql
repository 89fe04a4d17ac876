-- One row a row of the newest accepted submission table of a troop and week. Sources: landed.{table}.
select r.*
from landed.{table} r
join accepted.current_units u using (unit_no)
