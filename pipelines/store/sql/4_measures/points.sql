-- One row a day and troop that figures are made for: the days asked for, and (is_asked = false) the days that due dates
-- look back to, or that the organisation gave its own figure for.
-- Sources: chosen.days, facts.troops, season.dues, accepted.collections, accepted.organisation_balance.
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
    union all
    select b."on", b.troop, false
    from accepted.organisation_balance b
    where b."on" <= (select max(as_of) from chosen.days)
)
select as_of, troop, bool_or(is_asked) as is_asked
from wanted
group by all
