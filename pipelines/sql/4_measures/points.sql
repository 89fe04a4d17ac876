-- One row a day and troop that figures are made for: the days asked for, and (is_asked = false) the days that due dates
-- look back to. Sources: chosen.days, facts.troops, season.dues, accepted.collections.
with wanted as (
    select d.as_of, t.troop, true as is_asked
    from chosen.days d
    cross join facts.troops t
    union all
    select s.cutoff_on, t.troop, false
    from season.dues s
    cross join facts.troops t
    where s.cutoff_on <= (select max(as_of) from chosen.days)
    union all
    select c.announced_on, c.troop, false
    from accepted.collections c
    where c.announced_on <= (select max(as_of) from chosen.days)
)
select as_of, troop, bool_or(is_asked) as is_asked
from wanted
group by all
