-- One row an asked day, troop and item whose count is off by what the troop received and the supply feed does not say.
-- Sources: measures.unaccounted, accepted.stock, accepted.supply, season.items, season.thresholds.
-- Label: Waiting for the supply record
-- Meaning: The count is off, and what the troop says it received differs from the supply feed in the same direction,
-- by missing_from_packages or more packages. Most often a receipt is not recorded yet. At stake is the value of that
-- difference.
with off as (
    select u.*, abs(u.waiting) as packages, sign(u.waiting) as side
    from measures.unaccounted u
    cross join season.thresholds f
    where abs(u.waiting) >= f.missing_from_packages
),
pieces as (
    select o.as_of, o.troop, o.item, 1 as place, c.file_no, c.sheet, c.row_no, 'received' as column_name,
        'the troop received these' as says, -o.side * c.received as packages, c.week_ending as on_day
    from off o
    join accepted.stock c on c.troop = o.troop and c.item = o.item and c.week_ending <= o.as_of and c.received > 0
    union all by name
    select as_of, troop, item, 2 as place, null as file_no, null as sheet, null as row_no, null as column_name,
        'the supply feed says so for the weeks submitted' as says,
        side * recorded as packages, null as on_day
    from off
    union all by name
    select as_of, troop, item, 3 as place, null as file_no, null as sheet, null as row_no, null as column_name,
        'more than the count is off by' as says,
        packages - side * (recorded - received) as packages, null as on_day
    from off
    where packages <> side * (recorded - received)
),
evidence as (
    select p.as_of, p.troop, p.item,
        list(said.evidence(p.file_no, p.sheet, p.row_no, p.column_name, null, p.says, p.packages * o.price, p.packages)
            order by p.place, p.on_day) as evidence
    from pieces p
    join off o using (as_of, troop, item)
    group by all
)
select
    o.as_of, o.troop, o.item as subject, 'ask' as severity, 'stock' as about, o.packages * o.price as at_stake,
    o.packages, null as met,
    i.title || ': the troop received ' || said.packages(o.received) || ', the supply record says '
        || format('{:,}', o.recorded) || '; the count fits what the troop says by ' || o.packages || '.' as what,
    'Ask the depot for the receipt that is missing or wrong.' as next_step,
    'Could you look up the receipts of this item?' as ask,
    e.evidence
from off o
join season.items i on i.code = o.item
join evidence e using (as_of, troop, item)
