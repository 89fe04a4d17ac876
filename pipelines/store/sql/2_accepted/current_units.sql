-- One row a troop, week and table: the newest accepted word on it. A unit landed earlier is superseded by one landed later.
-- Sources: accepted.units.
select u.*
from accepted.units u
where u.week_ending is not null
qualify row_number() over (partition by u.table_name, u.troop, u.week_ending order by u.file_no desc) = 1
