-- One row an asked day and troop with registered participants of whom no contact is on file.
-- Sources: measures.participant_points, accepted.roster, season.thresholds.
-- Label: No contact known
-- Meaning: The roster says that no caregiver's contact is known for at least this part of a troop's registered
-- participants: contact_share. Where the roster leaves it empty nothing is said.
with lacking as (
    select
        p.as_of, p.troop, count(*) as registered, count(*) filter (r.contact_on_file = false) as lacking,
        list(said.evidence(r.file_no, r.sheet, r.row_no, 'contact_on_file', null, p.participant || ': no contact known',
            null, null) order by p.participant) filter (r.contact_on_file = false) as evidence
    from measures.participant_points p
    join accepted.roster r on r.troop = p.troop and r.participant = p.participant
    where p.is_registered
    group by all
)
select
    l.as_of, l.troop, '' as subject, 'watch' as severity, 'people' as about, null as at_stake, null as packages,
    null as met,
    'No caregiver''s contact is known for ' || l.lacking || ' of '
        || said.count(l.registered, 'participant', 'participants') || '.' as what,
    'Ask the leader to collect them; without one nobody can be reached about money or packages.' as next_step,
    'Could you collect the contacts that are missing?' as ask,
    l.evidence
from lacking l
cross join season.thresholds f
where l.lacking > 0 and l.lacking >= f.contact_share * l.registered
