-- One row an asked day and slot that its troop gave back few days before it. Sources: measures.calendar,
-- season.thresholds.
-- Label: Given back late
-- Meaning: A slot was given back less than give_back_days days before it, so that hardly anybody else can take it. Told
-- until its day is a week past.
select
    c.as_of, c.troop, c.slot as subject, 'watch' as severity, 'submissions' as about, null::decimal(18, 2) as at_stake,
    null as packages, null as met,
    'Slot ' || c.slot || ' at ' || c.title || ' on ' || said.day(c.date) || ' was given back on ' || said.day(c.since)
        || '.' as what,
    case when c.date > c.as_of then 'Offer it to the others; somebody may be glad of it.'
        else 'Ask whether the hours suit the troop.' end as next_step,
    'Is there another day that would suit you?' as ask,
    [said.evidence(c.file_no, c.sheet, c.row_no, 'state_on', null, 'given back on ' || said.day(c.since), null, null)]
        as evidence
from measures.calendar c
cross join season.thresholds f
where c.state = 'given_back' and c.troop is not null and c.date - c.since < f.give_back_days and c.as_of < c.date + 7
