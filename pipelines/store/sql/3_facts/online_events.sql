-- One row a troop, seller, item and day: by how much the effect of online orders changed that day.
-- Sources: facts.order_spans.
with changes as (
    select troop, seller, item, from_on as on_day, 1 as sign, packages, goods_amount, is_remote, is_paid_by_hand
    from facts.order_spans
    where is_remote or is_paid_by_hand
    union all
    select troop, seller, item, until_on, -1, packages, goods_amount, is_remote, is_paid_by_hand
    from facts.order_spans
    where (is_remote or is_paid_by_hand) and until_on is not null
)
select
    troop, seller as participant, item, on_day,
    sum(sign)::bigint as orders,
    sum(case when is_remote then sign * packages else 0 end)::bigint as remote,
    sum(case when is_remote then sign * goods_amount else 0 end)::decimal(18, 2) as remote_value,
    sum(case when is_paid_by_hand then sign * packages else 0 end)::bigint as by_hand,
    sum(case when is_paid_by_hand then sign * goods_amount else 0 end)::decimal(18, 2) as by_hand_value
from changes
group by all
