-- One row a stocked item's count at a week's end: what should have been there by then, and what was counted.
-- Sources: facts.entries, ledger.kinds, accepted.stock, season.items.
with told as (
    select
        e.troop, e.item, e.on_day,
        case when k.debit = 'stock' then e.packages when k.credit = 'stock' then -e.packages else 0 end as packages,
        null as counted, null as file_no, null as sheet, null as row_no
    from facts.entries e
    join ledger.kinds k on k.kind = e.kind
    where e.item is not null
    union all by name
    select s.troop, s.item, s.week_ending as on_day, 0 as packages, s.on_hand as counted, s.file_no, s.sheet, s.row_no
    from accepted.stock s
    join season.items i on i.code = s.item
    where s.on_hand is not null and i.is_stocked
),
running as (
    select *, sum(packages) over (partition by troop, item order by on_day)::bigint as expected
    from told
)
select troop, item, on_day, expected, counted, expected - counted as missing, file_no, sheet, row_no
from running
where counted is not null
