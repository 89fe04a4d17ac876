-- Two rows an event: its amount in the account that it goes to, and taken off the one that it comes from. packages are
-- signed as the amount is. An event of a kind without accounts keeps its row, with no account.
-- Sources: ledger.events, ledger.kinds.
select
    e.troop, e.on_day, case s.sign when 1 then k.debit else k.credit end as account, e.kind, e.item, e.participant,
    e.reference, (s.sign * e.packages)::bigint as packages, (s.sign * e.amount)::decimal(18, 2) as amount,
    e.table_name, e.file_no, e.sheet, e.row_no
from ledger.events e
left join ledger.kinds k on k.kind = e.kind
cross join (values (1), (-1)) as s (sign)
