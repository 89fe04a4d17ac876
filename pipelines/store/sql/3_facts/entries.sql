-- One row a number in a cell that counts in money or packages, from the day it counts from: packages and amount as the
-- cell says them, an amount without a cell of its own being packages times price. An online order counts from the day
-- its effect begins; what has ended, it or a cleared remittance, stands a second time, from the day it ended.
-- packages_in, amount_in: the column the number stands in; because_no: the file that says it counts, or counts no
-- longer. Measures that are declared as Entries are their sums by kind; the ledger posts them to accounts.
-- Sources: accepted.supply, facts.moves, accepted.stock, accepted.families, accepted.stalls, accepted.banked,
-- facts.order_spans, facts.remittance_spans, accepted.adjustments, season.items.
with orders as (
    select
        *, case when is_remote then 'remote_order' when is_paid_by_hand then 'hand_order' end as effect,
        row(troop, seller, is_remote, is_paid_by_hand, packages, goods_amount) as whole,
        lag(whole) over (partition by "order", item order by from_on) as whole_before,
        lead(whole) over (partition by "order", item order by from_on) as whole_after,
        lead(file_no) over (partition by "order", item order by from_on) as ended_by
    from facts.order_spans
),
remittances as (
    select *, lead(file_no) over (partition by reference order by from_on, rank) as ended_by
    from facts.remittance_spans
),
told as (
    select
        troop, date as on_day, case kind when 'returned' then 'taken_back' else kind end as kind, item,
        null as participant, document as reference, packages, null::decimal(18, 2) as amount,
        'supply' as table_name, 'packages' as packages_in, null as amount_in, file_no, sheet, row_no,
        null as ended_by
    from accepted.supply
    union all
    select
        giver, week_ending, 'move_out', item, null, receiver, packages, null, 'moves', 'packages', null,
        file_no, sheet, row_no, null
    from facts.moves
    where giver <> 'outside'
    union all
    select
        receiver, week_ending, 'move_in', item, null, giver, packages, null, 'moves', 'packages', null,
        file_no, sheet, row_no, null
    from facts.moves
    where receiver <> 'outside'
    union all
    select troop, week_ending, 'damage', item, null, null, damaged, null, 'stock', 'damaged', null, file_no, sheet, row_no, null
    from accepted.stock
    where damaged <> 0
    union all
    select
        troop, week_ending, case when packages > 0 then 'hand_out' else 'bring_back' end, item, participant, null,
        packages, null, 'families', 'packages', null, file_no, sheet, row_no, null
    from accepted.families
    where item is not null and packages <> 0
    union all
    select
        troop, week_ending, 'family_cash', null, participant, null, null, cash, 'families', null, 'cash',
        file_no, sheet, row_no, null
    from accepted.families
    where cash <> 0
    union all
    select
        troop, week_ending, 'family_card', null, participant, null, null, card, 'families', null, 'card',
        file_no, sheet, row_no, null
    from accepted.families
    where card <> 0
    union all
    select
        troop, week_ending, 'stall_sale', item, null, place, packages, null, 'stalls', 'packages', null,
        file_no, sheet, row_no, null
    from accepted.stalls
    where item is not null and packages <> 0
    union all
    select troop, week_ending, 'stall_cash', null, null, place, null, cash, 'stalls', null, 'cash', file_no, sheet, row_no, null
    from accepted.stalls
    where cash <> 0
    union all
    select troop, week_ending, 'stall_card', null, null, place, null, card, 'stalls', null, 'card', file_no, sheet, row_no, null
    from accepted.stalls
    where card <> 0
    union all
    select troop, week_ending, 'deposit', null, null, slip, null, amount, 'banked', null, 'amount', file_no, sheet, row_no, null
    from accepted.banked
    where amount <> 0
    union all
    select
        troop, from_on, effect, item, seller, "order", packages, goods_amount, 'online_orders', 'packages',
        'goods_amount', file_no, sheet, row_no, null
    from orders
    where effect is not null and whole is distinct from whole_before
    union all
    select
        troop, until_on, effect || '_undone', item, seller, "order", packages, goods_amount, 'online_orders',
        'packages', 'goods_amount', file_no, sheet, row_no, ended_by
    from orders
    where effect is not null and until_on is not null and whole is distinct from whole_after
    union all
    select
        troop, from_on, 'remittance', null, null, reference, null, amount, 'remittances', null, 'amount',
        file_no, sheet, row_no, null
    from remittances
    where state = 'cleared'
    union all
    select
        troop, until_on, 'remittance_undone', null, null, reference, null, amount, 'remittances', null, 'amount',
        file_no, sheet, row_no, ended_by
    from remittances
    where state = 'cleared' and until_on is not null
    union all
    select
        troop, date, case when participant is null then 'adjustment' else 'settlement' end, null, participant,
        reference, null, amount, 'adjustments', null, 'amount', file_no, sheet, row_no, null
    from accepted.adjustments
)
select
    t.troop, t.on_day,
    -- What a troop never holds is charged when it is sold, and neither supplied nor moved.
    case
        when i.is_stocked is distinct from false then t.kind
        when t.kind = 'hand_out' then 'donation_out'
        when t.kind = 'bring_back' then 'donation_back'
        when t.kind = 'stall_sale' then 'donation_stall'
        else t.kind
    end as kind,
    t.item, t.participant, t.reference, t.packages, i.price,
    coalesce(t.amount, t.packages * i.price)::decimal(18, 2) as amount,
    t.table_name, t.packages_in, t.amount_in, t.file_no, t.sheet, t.row_no,
    coalesce(t.ended_by, t.file_no) as because_no
from told t
left join season.items i on i.code = t.item
where i.is_stocked is distinct from false
    or t.kind not in ('opening', 'depot', 'taken_back', 'move_in', 'move_out')
