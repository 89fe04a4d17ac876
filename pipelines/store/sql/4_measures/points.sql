-- One row a day and troop that figures are made for: the days asked for, and (is_asked = false) the days that due dates
-- look back to, or that the organisation gave its own figure for.
-- Sources: chosen.days, facts.troops, season.dues, accepted.collections, accepted.organisation_balance.
with wanted as (
    select d.as_of, t.troop, true as is_asked
    from chosen.days d
    cross join facts.troops t
    union all by name
    select s.cutoff_on as as_of, t.troop, false as is_asked
    from season.dues s
    cross join facts.troops t
    where s.cutoff_on <= (select max(as_of) from chosen.days)
    union all by name
    select c.announced_on as as_of, c.troop, false as is_asked
    from accepted.collections c
    where c.announced_on <= (select max(as_of) from chosen.days)
    union all by name
    select b."on" as as_of, b.troop, false as is_asked
    from accepted.organisation_balance b
    where b."on" <= (select max(as_of) from chosen.days)
)
select as_of, troop, bool_or(is_asked) as is_asked
from wanted
group by all
