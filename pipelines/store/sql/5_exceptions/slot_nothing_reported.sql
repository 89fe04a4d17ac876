-- One row an asked day and slot that a troop had, whose week it has sent, and of which it reported no stall.
-- Sources: measures.calendar, facts.submitted, accepted.stalls.
-- Label: A slot without a stall
-- Meaning: A troop had a slot, sent its week, and no stall of it is reported on that day. Stays until the week is sent
-- again, the slot's state says not_held, or it is settled.
select
    c.as_of, c.troop, c.slot as subject, 'ask' as severity, 'submissions' as about, null::decimal(18, 2) as at_stake,
    null as packages, null as met,
    'The troop had ' || c.title || ' on ' || said.day(c.date) || '; its week tells of no stall that day.' as what,
    'Ask how it went: perhaps the stall was forgotten in the workbook, or nobody could come.' as next_step,
    'How was your stall at ' || c.title || '?' as ask,
    [said.evidence(c.file_no, c.sheet, c.row_no, 'date', null, 'slot ' || c.slot || ' on ' || said.day(c.date), null, null)]
        as evidence
from measures.calendar c
join facts.submitted w on w.troop = c.troop and w.week_ending = c.week_ending and w.week_ending <= c.as_of
anti join accepted.stalls s on s.troop = c.troop and s.date = c.date
where c.state = 'given'
