-- The troops, items, sellers and paces of areas under the day of each group that the area is part of.
create view measures.standing as
select t.* replace (g.as_of as as_of, {week_no} as week_no, t.area_no || '/' || t.troop as troop)
from handed.troops t
join chosen.groups g using (area_no);

create view measures.steps as
select as_of, troop from measures.standing;

create view measures.items as
select t.* replace (g.as_of as as_of, t.area_no || '/' || t.troop as troop)
from handed.items t
join chosen.groups g using (area_no);

create view measures.recent_sales as
select t.* replace (g.as_of as as_of)
from handed.sold t
join chosen.groups g using (area_no);

create view measures.participants as
select as_of, '' as troop, '' as participant, packages, true as is_taking_part, unnest(range(sellers)) as seller
from (
    select g.as_of, t.packages, sum(t.sellers)::bigint as sellers
    from handed.sellers t
    join chosen.groups g using (area_no)
    group by g.as_of, t.packages
);

create view measures.pace as
select
    g.as_of, {week_no} as week_no, sum(p.last_season)::bigint as last_season, sum(p.matched_now)::bigint as matched_now,
    sum(p.matched_then)::bigint as matched_then, sum(p.matched_troops)::bigint as matched_troops
from handed.pace p
join chosen.groups g using (area_no)
group by all
