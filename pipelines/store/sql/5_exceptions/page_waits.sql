-- One row an asked day and troop in which pages that are ready wait for a caregiver.
-- Sources: measures.participant_points, accepted.pages, season.thresholds.
-- Label: Pages wait for a caregiver
-- Meaning: Pages of registered participants are ready and have waited for a caregiver's yes for at least page_waits_days
-- days, by every word of them since.
with told as (
    select p.as_of, p.troop, p.participant, g."on", g.waits_for_caregiver, g.file_no, g.sheet, g.row_no,
        max(case when g.waits_for_caregiver is distinct from true then g."on" end)
            over (partition by p.as_of, p.troop, p.participant) as last_not
    from measures.participant_points p
    join accepted.pages g on g.troop = p.troop and g.participant = p.participant and g."on" <= p.as_of
    where p.is_registered
),
waiting as (
    select
        as_of, troop, participant, min("on") as since,
        arg_max(said.evidence(file_no, sheet, row_no, 'waits_for_caregiver', null,
            participant || ': waits', null, null), "on") as evidence
    from told
    where waits_for_caregiver and (last_not is null or "on" > last_not)
    group by all
),
long as (
    select w.as_of, w.troop, count(*) as pages, max(w.as_of - w.since) as days, list(w.evidence order by w.participant) as evidence
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
