-- One row a line of a family's account with its troop: packages at their price, money, online orders that pay, what was
-- settled otherwise; `on_day` is from when it counts. amount: positive is charged, negative is paid.
-- Sources: accepted.families, season.items, facts.order_spans, accepted.adjustments.
select f.troop, f.participant, f.week_ending as on_day, 'packages' as kind, f.file_no, f.sheet, f.row_no,
    'packages' as column_name, f.item, f.packages * i.price as amount
from accepted.families f
join season.items i on i.code = f.item
where f.packages <> 0
union all
select troop, participant, week_ending, 'cash', file_no, sheet, row_no, 'cash', null, -cash
from accepted.families
where cash <> 0
union all
select troop, participant, week_ending, 'card', file_no, sheet, row_no, 'card', null, -card
from accepted.families
where card <> 0
union all
select troop, seller, from_on, 'online', file_no, sheet, row_no, 'goods_amount', null, -goods_amount
from facts.order_spans
where is_paid_by_hand
union all
select troop, seller, until_on, 'online', file_no, sheet, row_no, 'goods_amount', null, goods_amount
from facts.order_spans
where is_paid_by_hand and until_on is not null
union all
select troop, participant, date, 'settled', file_no, sheet, row_no, 'amount', null, -amount
from accepted.adjustments
where participant is not null
