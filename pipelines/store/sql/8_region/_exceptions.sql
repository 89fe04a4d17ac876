-- One row a group of areas and rule: what was found there. Sources: handed.exceptions, chosen.groups.
select
    g.as_of, x.rule, sum(x.found)::bigint as found, sum(x.troops)::bigint as troops,
    sum(x.at_stake)::decimal(18, 2) as at_stake
from handed.exceptions x
join chosen.groups g using (area_no)
group by all
order by as_of, rule
