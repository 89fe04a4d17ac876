-- One row an entry or count that stands only in the one of two states of a book: sign -1 only in the earlier, 1 only in
-- the later. One that only stands in another file or row is no change. Sources: earlier, earlier_counts, later,
-- later_counts (ledger.entries and ledger.counts of both).
with told as (
    select -1 as sign, troop, on_day, kind, item, participant, reference, packages, amount, table_name, because_no, row_no
    from earlier
    union all
    select 1, troop, on_day, kind, item, participant, reference, packages, amount, table_name, because_no, row_no
    from later
    union all
    select -1, troop, on_day, 'count', item, null, null, counted, null, 'stock', file_no, row_no
    from earlier_counts
    union all
    select 1, troop, on_day, 'count', item, null, null, counted, null, 'stock', file_no, row_no
    from later_counts
),
numbered as (
    select
        *,
        row_number() over (
            partition by sign, troop, on_day, kind, item, participant, reference, packages, amount, table_name
            order by because_no, row_no
        ) as place
    from told
)
select *
from numbered
qualify count(*) over (
    partition by troop, on_day, kind, item, participant, reference, packages, amount, table_name, place
) = 1
order by troop, table_name, on_day, kind, item, participant, reference, because_no, row_no, sign
