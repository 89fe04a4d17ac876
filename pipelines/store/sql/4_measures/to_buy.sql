-- One row an asked day, troop and award that somebody earned, and of the whole area (troop empty): how many were earned,
-- how many of these handed over, how many are to be bought and their cost. What is in stock lies with the area: it is
-- taken off the area's alone. Sources: measures.awards, season.awards.
with counted as (
    select as_of, troop, award, count(*) as earned, count(handed_on) as handed
    from measures.awards
    where state = 'earned'
    group by grouping sets ((as_of, troop, award), (as_of, award))
)
select
    c.as_of, c.troop, c.award, a.title, a.award_no, c.earned, c.handed, case when c.troop is null then a.in_stock end as in_stock,
    greatest(c.earned - c.handed - case when c.troop is null then a.in_stock else 0 end, 0)::bigint as to_buy,
    (greatest(c.earned - c.handed - case when c.troop is null then a.in_stock else 0 end, 0) * a.cost)::decimal(18, 2) as cost
from counted c
join season.awards a on a.code = c.award
