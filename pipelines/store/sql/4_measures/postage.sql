-- One row an asked day and posted order: its packages (a gift box counts as what it says), the organisation's postage
-- (asked, the newest told) beside what the season's tiers come to (ours). Above the top tier it goes as often as it does
-- whole, then the tier of the rest. In no figure; no troop is asked for it.
-- Sources: chosen.days, facts.order_spans, accepted.online_orders, season.items, season.postage, season.rules.
with told as (
    select
        d.as_of, o."order" as order_no,
        arg_max(o.shipping_amount, (o.state_on <= d.as_of, case when o.state_on <= d.as_of then o.state_on end,
            o.shipping_amount)) filter (o.shipping_amount is not null) as asked,
        arg_max(o.zone, (o.state_on <= d.as_of, case when o.state_on <= d.as_of then o.state_on end, o.row_no))
            filter (o.zone is not null) as zone
    from chosen.days d
    join accepted.online_orders o on o.mode = 'by_post'
    group by all
),
orders as (
    select
        d.as_of, s.troop, s."order" as order_no, s.seller, s.placed_on, min(s.from_on) as state_on,
        bool_or(s.state = 'placed') as is_placed,
        sum(s.packages * i.box_of)::bigint as packages, sum(s.goods_amount)::decimal(18, 2) as goods_amount
    from chosen.days d
    join facts.order_spans s on s.mode = 'by_post' and s.is_remote and s.from_on <= d.as_of
        and (s.until_on is null or s.until_on > d.as_of)
    join season.items i on i.code = s.item
    group by all
    having sum(s.packages) > 0
),
tiers as (
    select up_to, price, lag(up_to, 1, -1) over (order by up_to) as above
    from season.postage
),
top as (
    select max(up_to) as up_to, arg_max(price, up_to) as price from season.postage
),
parts as (
    select o.*, t.price as top_price, o.packages // t.up_to as whole, o.packages % t.up_to as rest
    from orders o
    cross join top t
    where t.up_to is not null
),
priced as (
    select
        p.* exclude (top_price, whole, rest),
        p.whole * p.top_price + case when p.rest > 0 then g.price else 0 end as by_tier
    from parts p
    join tiers g on p.rest > g.above and p.rest <= g.up_to
)
select
    p.as_of, p.troop, p.order_no, p.seller, p.placed_on, p.state_on, p.is_placed, p.packages, p.goods_amount,
    coalesce(t.zone, 'near') as zone, t.asked,
    (p.by_tier + case when t.zone = 'far' then r.far else 0 end)::decimal(18, 2) as ours,
    (t.asked - p.by_tier - case when t.zone = 'far' then r.far else 0 end)::decimal(18, 2) as differs
from priced p
cross join season.rules r
left join told t on t.as_of = p.as_of and t.order_no = p.order_no
