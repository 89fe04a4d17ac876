-- One row a troop, week and table: the newest accepted word on it, of a closed troop the newest before it closed. A unit
-- landed earlier is superseded by one landed later. Sources: accepted.units, accepted.closings.
select u.*
from accepted.units u
anti join accepted.closings c on c.troop = u.troop and u.accepted_at > c.known_on
where u.week_ending is not null
qualify row_number() over (partition by u.table_name, u.troop, u.week_ending order by u.file_no desc) = 1
