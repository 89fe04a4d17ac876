-- One row an asked day, troop and item: items.csv. on_hand is the count of the day's week, else empty and
-- on_hand_or_expected the expected one. Sources: measures.item_points, accepted.stock, measures.recent_sales.
with counted as (
    select
        p.*,
        c.on_hand as counted,
        p.available - p.damaged - p.sold_from_stock as expected_on_hand
    from measures.item_points p
    left join accepted.stock c on c.troop = p.troop and c.item = p.item and c.week_ending = p.as_of and p.is_stocked
    where p.is_asked
)
select
    c.as_of, c.troop, c.item, c.price, c.is_stocked,
    c.supplied, c.moved_in, c.moved_out, c.available, c.damaged, c.handed_out, c.stall, c.remote,
    c.expected_on_hand,
    c.counted as on_hand,
    c.expected_on_hand - c.counted as missing,
    coalesce(c.counted, c.expected_on_hand) as on_hand_or_expected,
    c.sold_from_stock, c.remote_value, c.by_hand, c.by_hand_value,
    case when c.is_stocked and c.available > 0 then c.sold_from_stock / c.available end as sell_through,
    case when c.is_stocked and r.sold > 0
        then coalesce(c.counted, c.expected_on_hand) * r.weeks / r.sold end as weeks_of_supply
from counted c
left join measures.recent_sales r on r.as_of = c.as_of and r.troop = c.troop and r.item = c.item
