-- One row an asked day, troop with lines of its bank, and line of the bank (is_line) or row of the book that a line may
-- answer: a row of the bank as the troop reports it, a payment to the organisation (and its return), a collection that no payment stands for.
-- place: the line in the bank's order, or the row in the book's. amount: signed as the bank signs it.
-- Sources: chosen.days, accepted.bank_lines, accepted.banked, accepted.collections, facts.remittance_spans.
with lines as (
    select
        d.as_of, l.troop, true as is_line, coalesce(l.kind, '') as kind, l.line as name, l.date as on_day, l.amount,
        concat_ws(' ', l.reference, l.text) as words, 'bank_lines' as table_name, l.file_no, l.sheet, l.row_no
    from chosen.days d
    join accepted.bank_lines l on l.date <= d.as_of
),
banked as (
    select
        d.as_of, b.troop, false as is_line, coalesce(b.kind, 'deposit') as kind,
        replace(coalesce(b.kind, 'deposit'), '_', ' ') as name, b.date as on_day, b.amount, coalesce(b.slip, '') as words, 'banked' as table_name, b.file_no, b.sheet, b.row_no
    from chosen.days d
    join accepted.banked b on b.week_ending <= d.as_of
    where b.amount > 0 or coalesce(b.kind, 'deposit') <> 'deposit'  -- a deposit's correction is the book's alone
),
payments as (
    select d.as_of, r.*
    from chosen.days d
    join facts.remittance_spans r on r.from_on <= d.as_of and (r.until_on is null or r.until_on > d.as_of)
),
remitted as (
    select
        as_of, troop, false as is_line, 'remittance' as kind, 'payment' as name, date as on_day, -amount as amount,
        reference as words, 'remittances' as table_name, file_no, sheet, row_no
    from payments
    union all by name
    select
        as_of, troop, false as is_line, 'remittance' as kind, 'returned payment' as name, from_on as on_day, amount,
        reference as words, 'remittances' as table_name, file_no, sheet,
        row_no
    from payments
    where state = 'returned'
),
announced as (
    select d.as_of, c.*
    from chosen.days d
    join accepted.collections c on c.announced_on <= d.as_of and c."on" <= d.as_of
    qualify row_number() over (partition by d.as_of, c.troop, c."on" order by c.announced_on desc) = 1
),
collected as (
    select
        a.as_of, a.troop, false as is_line, 'collection' as kind, 'collection' as name, a."on" as on_day,
        -a.amount as amount, '' as words, 'collections' as table_name, a.file_no, a.sheet, a.row_no
    from announced a
    anti join payments p on p.as_of = a.as_of and p.troop = a.troop and p.amount = a.amount
        and p.date between a."on" - 1 and a."on" + 5
    where a.amount > 0
),
listed as (
    from lines
    union all by name
    from banked
    union all by name
    from remitted
    union all by name
    from collected
)
select
    *, (amount * 100)::bigint as cents,
    (row_number() over (partition by as_of, troop, is_line order by on_day, file_no, row_no, name) - 1)::integer as place
from listed
where troop in (select troop from accepted.bank_lines)
