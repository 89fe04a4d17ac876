-- One row an asked day and troop in which pages have been open for a while and nobody was told of them.
-- Sources: measures.participant_points, accepted.pages, season.thresholds.
-- Label: Pages that nobody was told of
-- Meaning: Pages of registered participants were open told_days days ago and still are, and no person has been told of
-- them by the newest word.
with told as (
    select
        p.as_of, p.troop, p.participant, arg_max(g.page_open, g."on") as is_open,
        coalesce(arg_max(g.people_told, g."on"), 0) as people_told, min(g."on") filter (g.page_open) as since,
        arg_max({'file_no': g.file_no, 'sheet': g.sheet, 'row_no': g.row_no}, g."on") as newest
    from measures.participant_points p
    join accepted.pages g on g.troop = p.troop and g.participant = p.participant and g."on" <= p.as_of
    where p.is_registered
    group by all
),
silent as (
    select
        t.as_of, t.troop, count(*) as pages,
        list(said.evidence(t.newest.file_no, t.newest.sheet, t.newest.row_no, 'people_told', null,
            t.participant || ': nobody told', null, null) order by t.participant) as evidence
    from told t
    cross join season.thresholds f
    where t.is_open and t.people_told = 0 and t.as_of - t.since >= f.told_days
    group by all
)
select
    as_of, troop, '' as subject, 'watch' as severity, 'people' as about, null as at_stake, null as packages, null as met,
    said.count(pages, 'page is', 'pages are') || ' open and nobody was told of '
        || case pages when 1 then 'it' else 'them' end || ' yet.' as what,
    'Ask the leader to plan an evening on which each participant tells a few people.' as next_step,
    'Shall we tell the first people together at the next meeting?' as ask,
    evidence
from silent
