-- One row an asked day and slot whose hours are given twice: at one place to two troops, or to one troop at two places.
-- Sources: measures.calendar.
-- Label: Hours given twice
-- Meaning: Two slots to come overlap: the same place is given to two troops, or one troop has two places at the same time.
-- The later of the two by its code is named.
with given as (
    from measures.calendar
    where state = 'given' and date > as_of
),
pairs as (
    select a.as_of, a.slot, b.slot as other
    from given a
    join given b on b.as_of = a.as_of and b.date = a.date and b.place = a.place and b.troop <> a.troop
        and b.slot < a.slot and b.start < a.until and a.start < b.until
    union all by name
    select a.as_of, a.slot, b.slot as other
    from given a
    join given b on b.as_of = a.as_of and b.date = a.date and b.troop = a.troop and b.place <> a.place
        and b.slot < a.slot and b.start < a.until and a.start < b.until
)
select
    a.as_of, a.troop, a.slot as subject, case when a.place = b.place then 'act now' else 'watch' end as severity,
    'submissions' as about, null::decimal(18, 2) as at_stake, null as packages, null as met,
    case
        when a.place = b.place then 'Slot ' || a.slot || ' at ' || a.title || ' on ' || said.day(a.date)
            || ' overlaps slot ' || b.slot || ', which another troop has.'
        else 'On ' || said.day(a.date) || ' the troop has ' || a.title || ' and ' || b.title || ' at the same time.'
    end as what,
    case when a.place = b.place then 'Ask whoever keeps the place, and tell both troops.'
        else 'Ask whether there are two teams; else one of the two could go to another troop.' end as next_step,
    'Which of the two do you count on?' as ask,
    [said.evidence(a.file_no, a.sheet, a.row_no, 'slot', null, 'slot ' || a.slot, null, null),
        said.evidence(b.file_no, b.sheet, b.row_no, 'slot', null, 'slot ' || b.slot, null, null)] as evidence
from pairs p
join given a on a.as_of = p.as_of and a.slot = p.slot
join given b on b.as_of = p.as_of and b.slot = p.other
qualify row_number() over (partition by a.as_of, a.slot order by (a.place = b.place) desc, b.slot) = 1
