-- One row a point (day and troop) and item: packages up to that day. available of an item that is not stocked is what
-- was handed out and sold at stalls. Sources: measures.points, season.items, facts.item_events, facts.online_events.
with stock as (
    select
        p.as_of, p.troop, e.item,
        sum(supplied) as supplied, sum(moved_in) as moved_in, sum(moved_out) as moved_out,
        sum(damaged) as damaged, sum(handed_out) as handed_out, sum(stall) as stall
    from measures.points p
    join facts.item_events e on e.troop = p.troop and e.on_day <= p.as_of
    group by all
),
online as (
    select
        p.as_of, p.troop, e.item,
        sum(remote) as remote, sum(remote_value) as remote_value, sum(by_hand) as by_hand,
        sum(by_hand_value) as by_hand_value
    from measures.points p
    join facts.online_events e on e.troop = p.troop and e.on_day <= p.as_of
    group by all
),
filled as (
    select
        p.as_of, p.troop, p.is_asked, i.code as item, i.price, i.is_stocked,
        coalesce(s.supplied, 0)::bigint as supplied,
        coalesce(s.moved_in, 0)::bigint as moved_in,
        coalesce(s.moved_out, 0)::bigint as moved_out,
        coalesce(s.damaged, 0)::bigint as damaged,
        coalesce(s.handed_out, 0)::bigint as handed_out,
        coalesce(s.stall, 0)::bigint as stall,
        coalesce(o.remote, 0)::bigint as remote,
        coalesce(o.remote_value, 0)::decimal(18, 2) as remote_value,
        coalesce(o.by_hand, 0)::bigint as by_hand,
        coalesce(o.by_hand_value, 0)::decimal(18, 2) as by_hand_value
    from measures.points p
    cross join season.items i
    left join stock s on s.as_of = p.as_of and s.troop = p.troop and s.item = i.code
    left join online o on o.as_of = p.as_of and o.troop = p.troop and o.item = i.code
)
select
    *,
    handed_out + stall as sold_from_stock,
    case when is_stocked then supplied + moved_in - moved_out else handed_out + stall end as available
from filled
