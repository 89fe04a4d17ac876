-- One row a group of areas, kind and state of online orders. Sources: handed.orders, chosen.groups.
select
    g.as_of, o.mode, o.state, sum(o.orders)::bigint as orders, sum(o.packages)::bigint as packages,
    sum(o.goods_amount)::decimal(18, 2) as goods_amount
from handed.orders o
join chosen.groups g using (area_no)
group by all
order by as_of, mode, state
