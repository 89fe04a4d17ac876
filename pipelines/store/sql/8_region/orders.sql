-- One row a published week, kind and state of online orders: how many, their packages, what they come to.
-- Sources: chosen.days, facts.order_spans.
select
    d.as_of, o.mode, o.state, count(distinct o."order")::bigint as orders, sum(o.packages)::bigint as packages,
    sum(o.goods_amount)::decimal(18, 2) as goods_amount
from chosen.days d
join facts.order_spans o on o.from_on <= d.as_of and (o.until_on is null or o.until_on > d.as_of)
group by all
order by as_of, mode, state
