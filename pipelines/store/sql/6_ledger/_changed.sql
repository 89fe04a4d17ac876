-- One row an entry, a count or another row that figures rest on, that stands only in the one of two states of a book:
-- sign -1 only in the earlier, 1 only in the later. One that only stands in another file or row is no change.
-- because_no: the file that says it; file_no, sheet, row_no: where it stands.
-- Sources: earlier_*, later_* (facts.entries, ledger.counts and the accepted rows of both).
with told as (
    select
        s.sign, s.troop, s.on_day, s.kind, s.item, s.participant, s.reference, s.packages, s.amount, s.table_name,
        s.because_no, s.file_no, s.sheet, s.row_no
    from (
        select -1 as sign, * from earlier_entries
        union all by name
        select 1 as sign, * from later_entries
    ) s
    union all by name
    select sign, troop, on_day, 'count' as kind, item, null as participant, null as reference, counted as packages,
        null as amount, 'stock' as table_name, file_no as because_no, file_no, sheet, row_no
    from (
        select -1 as sign, * from earlier_counts
        union all by name
        select 1 as sign, * from later_counts
    )
    union all by name
    select
        sign, troop, "on" as on_day, 'collection' as kind, null as item, null as participant,
        'announced on ' || announced_on as reference, null as packages, amount, 'collections' as table_name,
        file_no as because_no, file_no, sheet, row_no
    from (
        select -1 as sign, * from earlier_collections
        union all by name
        select 1 as sign, * from later_collections
    )
    union all by name
    select
        sign, troop, balance_on as on_day, 'balance' as kind, null as item, null as participant, null as reference,
        null as packages, bank_balance as amount, 'cover' as table_name, file_no as because_no, file_no, sheet, row_no
    from (
        select -1 as sign, * from earlier_cover
        union all by name
        select 1 as sign, * from later_cover
    )
    where bank_balance is not null and balance_on is not null
    union all by name
    select
        sign, troop, registered_on as on_day, 'registration' as kind, null as item, participant,
        'left on ' || left_on as reference, null as packages, null as amount, 'roster' as table_name,
        file_no as because_no, file_no, sheet, row_no
    from (
        select -1 as sign, * from earlier_roster
        union all by name
        select 1 as sign, * from later_roster
    )
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
