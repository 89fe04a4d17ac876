-- One row an asked day, troop and item: items.csv. on_hand is the count of the day's week, else empty and
-- on_hand_or_expected the expected one. Sources: measures.item_sums, accepted.stock, measures.recent_sales.
select
    s.*, c.on_hand,
    s.expected_on_hand - c.on_hand as missing,
    coalesce(c.on_hand, s.expected_on_hand) as on_hand_or_expected,
    coalesce(r.sold, 0) as recent_sold,
    case when s.is_stocked and r.sold > 0
        then coalesce(c.on_hand, s.expected_on_hand) * r.weeks / r.sold end as weeks_of_supply
from measures.item_sums s
left join accepted.stock c on c.troop = s.troop and c.item = s.item and c.week_ending = s.as_of and s.is_stocked
left join measures.recent_sales r on r.as_of = s.as_of and r.troop = s.troop and r.item = s.item
where s.is_asked
