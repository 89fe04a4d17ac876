-- One row a troop and week that was submitted: stock rows of it are accepted. Sources: accepted.current_units.
select troop, week_ending, file_no, unit_no, accepted_at
from accepted.current_units
where table_name = 'stock' and rows_read > 0
