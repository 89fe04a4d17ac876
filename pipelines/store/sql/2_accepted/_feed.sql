-- One row a key: of rows with the same key the one landed latest holds. Sources: landed.{table}.
select r.*
from landed.{table} r
join accepted.units u using (unit_no)
qualify row_number() over (partition by {key} order by r.file_no desc, r.row_no) = 1
