-- One row an asked day and troop: the days that its season's end goes by, as the season's rules say them.
-- Sources: measures.standing, season.rules, season.plan.
select s.as_of, s.troop, r.last_week_ending as last_week, r.close_by, coalesce(p.hand_back_until, r.close_by) as surplus_by
from measures.standing s
cross join season.rules r
cross join season.plan p
