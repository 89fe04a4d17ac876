-- One row an asked day and troop in which many registered participants have a page that is not open.
-- Sources: measures.participant_points, accepted.pages, chosen.days, season.thresholds.
-- Label: Pages not open
-- Meaning: After page_weeks weeks of the season, at least this part of a troop's registered participants has a page
-- that cannot be seen: page_share. Participants of whom the pages feed says nothing are not counted as closed.
with registered as (
    select p.as_of, p.troop, p.participant
    from measures.participant_points p
    join chosen.days d on d.as_of = p.as_of
    cross join season.thresholds f
    where p.is_registered and d.week_no > f.page_weeks
),
latest as (
    select p.*, g.page_open, g.file_no, g.sheet, g.row_no
    from registered p
    asof left join accepted.pages g on g.troop = p.troop and g.participant = p.participant and p.as_of >= g."on"
),
closed as (
    select
        as_of, troop, count(*) as registered, count(*) filter (page_open = false) as closed,
        list(said.evidence(file_no, sheet, row_no, 'page_open', null, participant || ': not open', null, null)
            order by participant) filter (page_open = false) as evidence
    from latest
    group by all
)
select
    c.as_of, c.troop, '' as subject, 'watch' as severity, 'people' as about, null as at_stake, null as packages,
    null as met,
    'The pages of ' || c.closed || ' of ' || said.count(c.registered, 'participant', 'participants')
        || ' are not open.' as what,
    'Ask what stands in the way; a page takes a caregiver''s yes and a few minutes.' as next_step,
    'Shall we open the pages together at the next meeting?' as ask,
    c.evidence
from closed c
cross join season.thresholds f
where c.closed > 0 and c.closed >= f.page_share * c.registered
