-- One row an asked day and troop that is open: its participants, and how many of the season's weeks have ended.
-- Sources: measures.standing, facts.troops, season.rules.
select
    s.as_of, s.troop, s.registered, w.weeks,
    greatest(0, least(w.weeks, date_diff('day', u.first_week_ending, s.as_of + 7) // 7))::integer as week
from measures.standing s
join facts.troops t using (troop)
cross join season.rules u
cross join (
    select ceil((date_diff('day', first_day, last_day) + 1) / 7)::integer as weeks from season.rules
) w
where t.closed_on is null or t.closed_on > s.as_of
