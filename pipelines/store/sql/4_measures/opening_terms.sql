-- One row a troop and stocked item: packages of its opening order, or where it has none of what its participants
-- promised on paper; its participants on the day before the season; what a package earns at the first tier and what one
-- left over costs. As of the latest asked day. Sources: chosen.days, facts.troops, accepted.supply, accepted.promised,
-- accepted.roster, season.items, season.tiers, season.rules, season.plan.
with latest as (
    select max(as_of) as as_of from chosen.days
),
opening as (
    select troop, item, sum(packages)::bigint as packages
    from accepted.supply
    where kind = 'opening'
    group by all
),
newest as (
    select p.troop, p.item, p.packages
    from accepted.promised p
    cross join latest l
    where p.week_ending <= l.as_of and p.item is not null
    qualify rank() over (partition by p.troop, p.participant order by p.week_ending desc) = 1
),
promised as (
    select troop, item, sum(packages)::bigint as packages
    from newest
    group by all
),
people as (
    select r.troop, count(*)::bigint as registered
    from accepted.roster r
    cross join season.rules u
    where r.registered_on < u.first_day and (r.left_on is null or r.left_on >= u.first_day)
    group by all
)
select
    l.as_of, t.troop, i.code as item, i.packages_per_case, i.price,
    coalesce(case when exists (select 1 from opening x where x.troop = t.troop) then o.packages else p.packages end, 0)
        ::bigint as ordered,
    case
        when exists (select 1 from opening x where x.troop = t.troop) then 'ordered'
        when p.packages is not null then 'promised'
    end as how,
    coalesce(n.registered, 0)::bigint as registered,
    (g.rate + t.extra_rate)::decimal(12, 4) as gain,
    greatest(coalesce(c.unsold_costs, i.price - g.rate - t.extra_rate), 0)::decimal(12, 4) as unsold,
    ceil((date_diff('day', u.first_day, u.last_day) + 1) / 7)::integer as weeks
from facts.troops t
cross join latest l
cross join season.items i
cross join season.rules u
cross join season.plan c
join season.tiers g on g.tier_no = 1
left join opening o on o.troop = t.troop and o.item = i.code
left join promised p on p.troop = t.troop and p.item = i.code
left join people n on n.troop = t.troop
where i.is_stocked and (t.closed_on is null or t.closed_on > l.as_of)
