-- One row an event in money: every entry with a cell of its own, and the two that are worked out: what a count showed,
-- which holds for its day alone, and by how much proceeds changed. Sources: facts.entries, ledger.counts,
-- ledger.proceeds, season.items.
select
    troop, on_day, kind, item, participant, reference, packages, amount, table_name, file_no, sheet, row_no
from facts.entries
union all by name
select
    c.troop, c.on_day + s.days as on_day, s.kind, c.item, null as participant, null as reference,
    c.missing as packages, (c.missing * i.price)::decimal(18, 2) as amount, 'stock' as table_name,
    c.file_no, c.sheet, c.row_no
from ledger.counts c
join season.items i on i.code = c.item
cross join (values ('count_short', 0), ('count_short_undone', 1)) as s (kind, days)
where c.missing <> 0
union all by name
select troop, as_of as on_day, 'proceeds' as kind, null as item, null as participant,
    rate || ' × ' || charged as reference, null as packages, change as amount, null as table_name, null as file_no,
    null as sheet, null as row_no
from ledger.proceeds
where change <> 0
