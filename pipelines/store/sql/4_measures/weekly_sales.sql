-- One row a troop, week submitted and stocked item: packages out of stock in the week, and on hand at its end (counted,
-- else expected). Sources: facts.submitted, facts.entries, accepted.stock, season.items, season.rules.
with moved as (
    select
        s.troop, s.week_ending, i.code as item,
        coalesce(sum(e.packages) filter (e.on_day = s.week_ending and e.kind in ('hand_out', 'bring_back', 'stall_sale')), 0)
            ::bigint as sold,
        coalesce(sum(case when e.kind in ('opening', 'depot', 'move_in', 'exchange') then e.packages
            when e.kind in ('taken_back', 'move_out', 'damage', 'hand_out', 'bring_back', 'stall_sale') then -e.packages
            end), 0)::bigint as expected
    from facts.submitted s
    cross join season.items i
    left join facts.entries e on e.troop = s.troop and e.item = i.code and e.on_day <= s.week_ending
    where i.is_stocked
    group by all
)
select
    m.troop, m.week_ending, m.item, m.sold,
    (date_diff('day', u.first_week_ending, m.week_ending) // 7 + 1)::integer as week_no,
    coalesce(c.on_hand, m.expected)::bigint as on_hand
from moved m
cross join season.rules u
left join accepted.stock c on c.troop = m.troop and c.item = m.item and c.week_ending = m.week_ending
