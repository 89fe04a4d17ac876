-- One row a published week: packages of this season and the last, of the area and of troops that have both.
-- Sources: measures.pace.
select as_of, week_no, packages_sold, last_season, matched_now, matched_then, matched_troops
from measures.pace
where as_of is not null
order by as_of
