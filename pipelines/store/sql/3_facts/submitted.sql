-- One row a troop and week that was submitted: rows of stock are accepted for it; a table that says "nothing" has none.
-- Sources: accepted.current_units, accepted.stock.
select troop, week_ending, file_no, unit_no, accepted_at
from accepted.current_units
where table_name = 'stock' and unit_no in (select unit_no from accepted.stock)
