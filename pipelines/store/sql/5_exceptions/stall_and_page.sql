-- One row an asked day, troop and stall that is short by just what the troop's own page is paid ahead.
-- Sources: measures.families, facts.stalls, season.thresholds.
-- Label: A stall short by what the page is over
-- Meaning: A stall's takings are short by stall_from or more, and by just as much the troop's own page has been paid for
-- packages that it never took. The packages of the page's orders may stand in the stall's row. At stake is that amount.
with short as (
    select s.*, s.sold_value - s.cash - s.card as short,
        row_number() over (partition by s.troop, s.date, s.start, s.place order by s.week_ending) as nth
    from facts.stalls s
    cross join season.thresholds f
    where abs(s.sold_value - s.cash - s.card) >= f.stall_from
)
select
    k.as_of, k.troop,
    concat_ws(' ', s.date::varchar, left(s.start::varchar, 5), s.place,
        case when s.nth > 1 then 'in the week to ' || s.week_ending end) as subject,
    'ask' as severity, 'cash' as about, s.short as at_stake, null as packages, null as met,
    'The stall' || coalesce(' at ' || s.place, '') || ' on ' || said.day(s.date) || ' is ' || said.money(s.short)
        || ' short, and the troop''s own page is paid ahead by just as much.' as what,
    'Ask whether packages of the page''s orders were handed over there; they belong in the row of the page.' as next_step,
    'Were packages of orders on your own page handed over at this stall?' as ask,
    [said.evidence(s.file_no, s.sheet, s.money_row_no, 'cash', null, 'short at the stall', s.short, null)] as evidence
from measures.families k
join short s on s.troop = k.troop and s.week_ending <= k.as_of and s.short = -k.owes
where k.participant = 'troop' and s.short > 0
