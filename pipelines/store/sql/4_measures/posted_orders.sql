-- One row an asked day, troop and online order that is posted: its packages on that day.
-- Sources: measures.points, facts.order_spans.
select p.as_of, p.troop, o."order", sum(o.packages)::bigint as packages
from measures.points p
join facts.order_spans o on o.troop = p.troop and o.mode = 'by_post' and o.is_remote
    and o.from_on <= p.as_of and (o.until_on is null or o.until_on > p.as_of)
where p.is_asked
group by all
