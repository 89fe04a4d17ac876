-- One row an asked day and troop that sold last season: its packages of all items up to the same week's number then.
-- Sources: chosen.days, accepted.last_season.
select d.as_of, l.troop, l.week_no, l.participants, l.packages
from chosen.days d
join accepted.last_season l on l.week_no = d.week_no and coalesce(l.item, '') = ''
