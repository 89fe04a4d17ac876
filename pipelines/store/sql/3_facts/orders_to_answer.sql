-- One row an online order that, by all that is known, waits for a caregiver's answer. otherwise: what the buyer chose to
-- become of it without one. Sources: facts.order_spans, accepted.online_orders.
with wished as (
    select "order", max(otherwise) as otherwise
    from accepted.online_orders
    group by all
)
select
    s.troop, s."order" as order_no, s.seller, s.placed_on, sum(s.packages)::bigint as packages,
    sum(s.goods_amount)::decimal(18, 2) as goods_amount,
    max(w.otherwise) as otherwise
from facts.order_spans s
left join wished w on w."order" = s."order"
where s.mode = 'by_hand' and s.state = 'waiting' and s.until_on is null
group by s.troop, s."order", s.seller, s.placed_on
