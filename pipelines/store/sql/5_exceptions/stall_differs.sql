-- One row an asked day and stall whose takings are not what its packages cost.
-- And one a cheque of a stall that came back: which stall took it is not told.
-- Sources: chosen.days, facts.stalls, accepted.stalls, accepted.banked, season.items, season.thresholds.
-- Label: A stall short or over
-- Meaning: The money a stall took differs from its packages' value by stall_from or more, or a cheque of so much that a
-- stall had taken came back. At stake is the difference, or the cheque.
-- Stays until it is settled or the week is sent again.
with off as (
    select s.*, s.sold_value - s.cash - s.card as short, sign(s.sold_value - s.cash - s.card) as side,
        row_number() over (partition by s.troop, s.date, s.start, s.place order by s.week_ending) as nth
    from facts.stalls s
    cross join season.thresholds f
    where abs(s.sold_value - s.cash - s.card) >= f.stall_from
),
pieces as (
    select troop, week_ending, date, start, place, file_no, sheet, row_no, 'packages' as column_name, item,
        said.packages(packages) || ' of ' || i.title as says, packages * i.price as amount, packages
    from accepted.stalls s
    join season.items i on i.code = s.item
    where packages <> 0
    union all by name
    select troop, week_ending, date, start, place, file_no, sheet, row_no, 'cash' as column_name, null as item,
        'cash and cheques' as says, -cash as amount, null as packages
    from accepted.stalls
    where cash <> 0
    union all by name
    select troop, week_ending, date, start, place, file_no, sheet, row_no, 'card' as column_name, null as item,
        'by card' as says, -card as amount, null as packages
    from accepted.stalls
    where card <> 0
),
evidence as (
    select
        o.troop, o.week_ending, o.date, o.start, o.place,
        list(said.evidence(p.file_no, p.sheet, p.row_no, p.column_name, p.item, p.says, p.amount * o.side, p.packages)
            order by p.file_no, p.row_no, p.amount desc, p.column_name, p.item) as evidence
    from off o
    join pieces p on p.troop = o.troop and p.week_ending = o.week_ending and p.date = o.date
        and p.start is not distinct from o.start and p.place is not distinct from o.place
    group by all
)
select
    d.as_of, o.troop, concat_ws(' ', o.date::varchar, left(o.start::varchar, 5), o.place,
        case when o.nth > 1 then 'in the week to ' || o.week_ending end) as subject,
    case when o.side > 0 then 'ask' else 'watch' end as severity, 'cash' as about, abs(o.short) as at_stake,
    null as packages, null as met,
    'The stall' || coalesce(' at ' || o.place, '') || ' on ' || said.day(o.date) || ' took '
        || said.money(o.cash + o.card) || '; its ' || said.packages(o.packages) || ' come to '
        || said.money(o.sold_value) || ': ' || said.money(abs(o.short))
        || case when o.side > 0 then ' short.' else ' over.' end as what,
    case when o.side > 0 then 'Ask for the count sheet; settle it with what was found.'
        else 'Ask whether a gift came in or packages were left out.' end as next_step,
    case when o.side > 0 then 'Could you look at the count sheet of that stall together?'
        else 'Did somebody give something extra, or were packages left out?' end as ask,
    e.evidence
from chosen.days d
join off o on o.week_ending <= d.as_of
join evidence e on e.troop = o.troop and e.week_ending = o.week_ending and e.date = o.date
    and e.start is not distinct from o.start and e.place is not distinct from o.place
union all by name
select
    d.as_of, b.troop,
    concat_ws(' ', 'cheque', b.date::varchar, (-b.amount)::varchar,
        case when row_number() over same > 1 then 'no. ' || row_number() over same end) as subject,
    'ask' as severity, 'cash' as about, (-b.amount)::decimal(18, 2) as at_stake, null as packages, null as met,
    'A cheque of ' || said.money(-b.amount) || ' that a stall had taken came back on ' || said.day(b.date) || '.' as what,
    'Ask which stall took it, and whether whoever wrote it can be reached.' as next_step,
    'Do you know who wrote this cheque, and can it be paid in another way?' as ask,
    [said.evidence(b.file_no, b.sheet, b.row_no, 'amount', null, 'came back', -b.amount, null)] as evidence
from chosen.days d
join accepted.banked b on b.week_ending <= d.as_of and b.kind = 'returned_cheque' and b.participant is null
cross join season.thresholds f
where -b.amount >= f.stall_from
window same as (partition by d.as_of, b.troop, b.date, b.amount order by b.week_ending, b.file_no, b.row_no)
