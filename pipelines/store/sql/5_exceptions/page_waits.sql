-- One row an asked day and troop in which pages that are ready wait for a caregiver.
-- Sources: measures.participant_points, accepted.pages, season.thresholds.
-- Label: Pages wait for a caregiver
-- Meaning: Pages of registered participants are ready and have waited for a caregiver's yes for at least page_waits_days
-- days, by every word of them since.
with said_so as (
    select troop, participant, "on", waits_for_caregiver is true as waits, file_no, sheet, row_no,
        max(case when waits_for_caregiver is distinct from true then "on" end)
            over (partition by troop, participant order by "on") as last_not
    from accepted.pages
),
runs as (
    select *, min(case when waits then "on" end) over (partition by troop, participant, last_not) as since
    from said_so
),
waiting as (
    select p.as_of, p.troop, p.participant, r.since, r.file_no, r.sheet, r.row_no
    from measures.participant_points p
    asof join runs r on r.troop = p.troop and r.participant = p.participant and r."on" <= p.as_of
    where p.is_registered and r.waits
),
long as (
    select
        w.as_of, w.troop, count(*) as pages, max(w.as_of - w.since) as days,
        list(said.evidence(w.file_no, w.sheet, w.row_no, 'waits_for_caregiver', null,
            w.participant || ': waits', null, null) order by w.participant) as evidence
    from waiting w
    cross join season.thresholds f
    where w.as_of - w.since >= f.page_waits_days
    group by all
)
select
    as_of, troop, '' as subject, 'watch' as severity, 'people' as about, null as at_stake, null as packages, null as met,
    said.count(pages, 'page is', 'pages are') || ' ready and ' || case pages when 1 then 'waits' else 'wait' end
        || ' for a caregiver, the longest for ' || said.count(days, 'day', 'days') || '.' as what,
    'Ask the leader to remind the caregivers: it takes a few minutes.' as next_step,
    'Could you remind the caregivers whose yes is missing for a page?' as ask,
    evidence
from long
