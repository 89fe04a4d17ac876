-- One row a published week and rule: how many exceptions were found, of how many troops, and what is at stake.
-- Sources: follow_up.listed.
select
    as_of, rule, count(*)::bigint as found, count(distinct troop)::bigint as troops,
    coalesce(sum(at_stake), 0)::decimal(18, 2) as at_stake
from follow_up.listed
group by all
order by as_of, rule
