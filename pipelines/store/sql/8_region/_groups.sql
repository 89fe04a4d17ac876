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

create table handed.people as
select *, row_number() over () as person
from (
    select g.as_of, t.packages, t.sold, t.is_taking_part, t.goal, unnest(range(t.people)) as nth
    from handed.sellers t
    join chosen.groups g using (area_no)
);

create view measures.participants as
select as_of, person, sold as packages, is_taking_part, goal, as_of as joined_on
from handed.people
union all by name
select as_of, person, packages - sold as packages, false as is_taking_part, null as goal, as_of as joined_on
from handed.people
where packages <> sold;

create view measures.pace as
select
    g.as_of, {week_no} as week_no, sum(p.last_season)::bigint as last_season, sum(p.matched_now)::bigint as matched_now,
    sum(p.matched_then)::bigint as matched_then, sum(p.matched_troops)::bigint as matched_troops
from handed.pace p
join chosen.groups g using (area_no)
group by all
