-- One row an asked day and stall that stood at a place of the list on a day on which its troop had no slot there.
-- Sources: chosen.days, facts.stall_hours, measures.calendar, accepted.places, accepted.stalls.
-- Label: A stall that no slot tells of
-- Meaning: A stall is reported at a place whose slots are listed for that day, and none of them was the troop's. Most often
-- two troops swapped and did not say so. Stays until it is settled or the slots say otherwise.
with listed as (
    select distinct as_of, place, date from measures.calendar
)
select
    d.as_of, s.troop, concat_ws(' ', s.date::varchar, left(s.start::varchar, 5), s.place) as subject, 'watch' as severity,
    'submissions' as about, null::decimal(18, 2) as at_stake, null as packages, null as met,
    'The troop stood at ' || coalesce(p.title, s.place) || ' on ' || said.day(s.date)
        || '; the calendar has no slot of its there.' as what,
    'Ask with whom it swapped, and write it down, so that the next one finds the place free.' as next_step,
    'Did you swap with somebody for that day?' as ask,
    list(said.evidence(a.file_no, a.sheet, a.row_no, 'place', null, a.place, null, null) order by a.file_no, a.row_no)[:1]
        as evidence
from chosen.days d
join facts.stall_hours s on s.week_ending <= d.as_of
join listed l on l.as_of = d.as_of and l.place = s.place and l.date = s.date
left join accepted.places p on p.place = s.place
anti join measures.calendar c on c.as_of = d.as_of and c.place = s.place and c.date = s.date and c.troop = s.troop
    and c.state = 'given'
join accepted.stalls a on a.troop = s.troop and a.date = s.date and a.start is not distinct from s.start
    and a.place is not null
group by all
