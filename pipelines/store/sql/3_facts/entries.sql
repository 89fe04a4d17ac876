-- One row a number in a cell that counts in money or packages, from the day it counts from: packages and amount as the
-- cell says them, an amount without a cell of its own being packages times price. An online order counts from the day
-- its effect begins; what has ended, it or a cleared remittance, stands a second time, from the day it ended.
-- packages_in, amount_in: the column the number stands in; because_no: the file that says it counts, or counts no
-- longer. Measures that are declared as Entries are their sums by kind; the ledger posts them to accounts.
-- Sources: accepted.supply, facts.moves, accepted.stock, accepted.families, accepted.stalls, accepted.banked,
-- facts.order_spans, facts.remittance_spans, accepted.adjustments, season.items.
with spans as (
    select
        *, case when is_remote then 'remote_order' when is_paid_by_hand then 'hand_order' end as effect,
        row(troop, seller, is_remote, is_paid_by_hand, packages, goods_amount) as whole
    from facts.order_spans
),
orders as (
    select
        *,
        lag(whole) over (partition by "order", item order by from_on) as whole_before,
        lead(whole) over (partition by "order", item order by from_on) as whole_after,
        lead(file_no) over (partition by "order", item order by from_on) as ended_by
    from spans
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
    union all by name
    select
        giver as troop, week_ending as on_day, 'move_out' as kind, item, null as participant, receiver as reference,
        packages, null as amount, 'moves' as table_name, 'packages' as packages_in, null as amount_in,
        file_no, sheet, row_no, null as ended_by
    from facts.moves
    where giver <> 'outside'
    union all by name
    select
        receiver as troop, week_ending as on_day, 'move_in' as kind, item, null as participant, giver as reference,
        packages, null as amount, 'moves' as table_name, 'packages' as packages_in, null as amount_in,
        file_no, sheet, row_no, null as ended_by
    from facts.moves
    where receiver <> 'outside'
    union all by name
    select troop, week_ending as on_day, 'damage' as kind, item, null as participant, null as reference,
        damaged as packages, null as amount, 'stock' as table_name, 'damaged' as packages_in, null as amount_in,
        file_no, sheet, row_no, null as ended_by
    from accepted.stock
    where damaged <> 0
    union all by name
    select
        troop, week_ending as on_day, case when packages > 0 then 'hand_out' else 'bring_back' end as kind, item,
        participant, null as reference,
        packages, null as amount, 'families' as table_name, 'packages' as packages_in, null as amount_in, file_no,
        sheet, row_no, null as ended_by
    from accepted.families
    where item is not null and packages <> 0
    union all by name
    select
        troop, week_ending as on_day, 'family_cash' as kind, null as item, participant, null as reference,
        null as packages, cash as amount, 'families' as table_name, null as packages_in, 'cash' as amount_in,
        file_no, sheet, row_no, null as ended_by
    from accepted.families
    where cash <> 0
    union all by name
    select
        troop, week_ending as on_day, 'family_card' as kind, null as item, participant, null as reference,
        null as packages, card as amount, 'families' as table_name, null as packages_in, 'card' as amount_in,
        file_no, sheet, row_no, null as ended_by
    from accepted.families
    where card <> 0
    union all by name
    select
        troop, week_ending as on_day, 'stall_sale' as kind, item, null as participant, place as reference, packages,
        null as amount, 'stalls' as table_name, 'packages' as packages_in, null as amount_in,
        file_no, sheet, row_no, null as ended_by
    from accepted.stalls
    where item is not null and packages <> 0
    union all by name
    select troop, week_ending as on_day, 'stall_cash' as kind, null as item, null as participant, place as reference,
        null as packages, cash as amount, 'stalls' as table_name, null as packages_in, 'cash' as amount_in, file_no,
        sheet, row_no, null as ended_by
    from accepted.stalls
    where cash <> 0
    union all by name
    select troop, week_ending as on_day, 'stall_card' as kind, null as item, null as participant, place as reference,
        null as packages, card as amount, 'stalls' as table_name, null as packages_in, 'card' as amount_in, file_no,
        sheet, row_no, null as ended_by
    from accepted.stalls
    where card <> 0
    union all by name
    select troop, week_ending as on_day, 'stall_gift' as kind, null as item, null as participant, place as reference,
        null as packages, gift as amount, 'stalls' as table_name, null as packages_in, 'gift' as amount_in, file_no,
        sheet, row_no, null as ended_by
    from accepted.stalls
    where gift <> 0
    union all by name
    select troop, week_ending as on_day,
        case coalesce(kind, 'deposit')
            when 'fee' then 'bank_fee'
            when 'returned_cheque' then case when participant is null then 'stall_cheque_back' else 'family_cheque_back' end
            when 'float' then 'bank_float'
            else 'deposit'
        end as kind, null as item, participant, slip as reference, null as packages, amount, 'banked' as table_name,
        null as packages_in, 'amount' as amount_in, file_no, sheet, row_no, null as ended_by
    from accepted.banked
    where amount <> 0
    union all by name
    select
        troop, from_on as on_day, effect as kind, item, seller as participant, "order" as reference, packages,
        goods_amount as amount, 'online_orders' as table_name, 'packages' as packages_in,
        'goods_amount' as amount_in, file_no, sheet, row_no, null as ended_by
    from orders
    where effect is not null and whole is distinct from whole_before
    union all by name
    select
        troop, until_on as on_day, effect || '_undone' as kind, item, seller as participant, "order" as reference,
        packages, goods_amount as amount, 'online_orders' as table_name,
        'packages' as packages_in, 'goods_amount' as amount_in, file_no, sheet, row_no, ended_by
    from orders
    where effect is not null and until_on is not null and whole is distinct from whole_after
    union all by name
    select
        troop, from_on as on_day, 'remittance' as kind, null as item, null as participant, reference, null as packages,
        amount, 'remittances' as table_name, null as packages_in, 'amount' as amount_in,
        file_no, sheet, row_no, null as ended_by
    from remittances
    where state = 'cleared'
    union all by name
    select
        troop, until_on as on_day, 'remittance_undone' as kind, null as item, null as participant, reference,
        null as packages, amount, 'remittances' as table_name, null as packages_in, 'amount' as amount_in,
        file_no, sheet, row_no, ended_by
    from remittances
    where state = 'cleared' and until_on is not null
    union all by name
    select
        troop, date as on_day, case when participant is null then 'adjustment' else 'settlement' end as kind,
        null as item, participant,
        reference, null as packages, amount, 'adjustments' as table_name, null as packages_in, 'amount' as amount_in,
        file_no, sheet, row_no, null as ended_by
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
