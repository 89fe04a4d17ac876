-- One row a troop of the troops feed or the roster. Sources: accepted.troops, accepted.roster.
select
    coalesce(t.troop, r.troop) as troop,
    t.level,
    t.leader,
    t.email,
    t.phone,
    t.opened_on,
    t.closed_on,
    coalesce(t.extra_rate, 0)::decimal(9, 4) as extra_rate,
    t.divisor,
    t.account,
    t.town
from accepted.troops t
full join (select distinct troop from accepted.roster) r on r.troop = t.troop
