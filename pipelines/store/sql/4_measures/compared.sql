-- One row an asked day, troop and measure in which troops are compared: the share of those registered who take part
-- (`some` of `of`), and the average of packages for each participant taking part where there are enough of them.
-- Sources: measures.standing, facts.troops, season.thresholds.
select s.as_of, s.troop, t.level, 'share' as measure, s.registered_taking_part as some, s.registered as "of",
    null::double as average
from measures.standing s
join facts.troops t on t.troop = s.troop
where s.registered > 0
union all by name
select s.as_of, s.troop, t.level, 'average' as measure, null as some, s.taking_part as of,
    s.average_per_active as average
from measures.standing s
join facts.troops t on t.troop = s.troop
cross join season.thresholds f
where s.taking_part >= f.average_from_participants
