-- One row an asked day and slot to come, given to a troop, on which the place's permission does not hold.
-- Sources: measures.calendar.
-- Label: No permission for that day
-- Meaning: A slot to come is given to a troop, and its day lies outside the days of the place's permission.
select
    as_of, troop, slot as subject, 'act now' as severity, 'submissions' as about, null::decimal(18, 2) as at_stake,
    null as packages, null as met,
    'The permission for ' || title || case when date < from_on then ' begins on ' || said.day(from_on)
        else ' ends on ' || said.day(until_on) end || '; slot ' || slot || ' is on ' || said.day(date) || '.' as what,
    'Have the permission extended, or give the troop another slot.' as next_step,
    'Do you have a permission for that day yourself?' as ask,
    [said.evidence(file_no, sheet, row_no, 'date', null, 'slot ' || slot || ' on ' || said.day(date), null, null)]
        as evidence
from measures.calendar
where state = 'given' and date > as_of and not is_permitted
