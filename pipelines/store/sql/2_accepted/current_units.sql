-- One row a troop, week and table: the newest accepted word on it. A unit landed earlier is superseded by one landed
-- later. Sources: accepted.units.
select *
from accepted.units
where week_ending is not null
qualify row_number() over (partition by table_name, troop, week_ending order by file_no desc) = 1
