-- One row a line of a family's account with its troop: packages at their price, money, cheques that came back, online
-- orders that pay, what was settled otherwise; `on_day` is from when it counts. amount: positive is charged, negative is
-- paid. Sources: accepted.families, accepted.banked, season.items, facts.order_spans, accepted.adjustments.
select f.troop, f.participant, f.week_ending as on_day, 'packages' as kind, f.file_no, f.sheet, f.row_no,
    'packages' as column_name, f.item, f.packages * i.price as amount
from accepted.families f
join season.items i on i.code = f.item
where f.packages <> 0
union all by name
select troop, participant, week_ending as on_day, 'cash' as kind, file_no, sheet, row_no, 'cash' as column_name,
    null as item, -cash as amount
from accepted.families
where cash <> 0
union all by name
select troop, participant, week_ending as on_day, 'card' as kind, file_no, sheet, row_no, 'card' as column_name,
    null as item, -card as amount
from accepted.families
where card <> 0
union all by name
select troop, participant, week_ending as on_day, 'cheque back' as kind, file_no, sheet, row_no,
    'amount' as column_name, null as item, -amount as amount
from accepted.banked
where kind = 'returned_cheque' and participant is not null
union all by name
select troop, seller as participant, from_on as on_day, 'online' as kind, file_no, sheet, row_no,
    'goods_amount' as column_name, null as item, -goods_amount as amount
from facts.order_spans
where is_paid_by_hand
union all by name
select troop, seller as participant, until_on as on_day, 'online' as kind, file_no, sheet, row_no,
    'goods_amount' as column_name, null as item, goods_amount as amount
from facts.order_spans
where is_paid_by_hand and until_on is not null
union all by name
select troop, participant, date as on_day, 'settled' as kind, file_no, sheet, row_no, 'amount' as column_name,
    null as item, -amount as amount
from accepted.adjustments
where participant is not null
