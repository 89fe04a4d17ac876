-- One row an asked day, troop and week whose workbook fits another troop: its participants, or its counts.
-- Sources: chosen.days, accepted.families, accepted.roster, accepted.stock, measures.items, season.thresholds.
-- Label: Another troop's workbook
-- Meaning: another_from_participants or more of a week's participants are on another troop's roster, and more than on
-- the troop's own; or another_from_items or more counts are off by missing_from_packages or more, and all counts are
-- what another troop has on hand. Without an amount.
-- Asked: before it is sent.
with people as (
    select troop, week_ending, participant, max(file_no) as file_no, max(sheet) as sheet, min(row_no) as row_no
    from accepted.families
    where packages <> 0 or cash <> 0 or card <> 0
    group by all
),
strangers as (
    select p.*
    from people p
    anti join accepted.roster r on r.troop = p.troop and r.participant = p.participant
),
homes as (
    select
        s.troop, s.week_ending, r.troop as home, count(*) as number,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'participant', null,
            s.participant || ' is on the roster of troop ' || r.troop, null, null) order by s.row_no) as evidence
    from strangers s
    join accepted.roster r on r.participant = s.participant
    group by all
),
own as (
    select p.troop, p.week_ending, count(*) as number
    from people p
    semi join homes h on h.troop = p.troop and h.week_ending = p.week_ending
    semi join accepted.roster r on r.troop = p.troop and r.participant = p.participant
    group by all
),
counted as (
    select as_of, troop, item, on_hand, count(*) over own as items
    from measures.items
    cross join season.thresholds f
    where on_hand is not null
    window own as (partition by as_of, troop)
    qualify count(*) filter (abs(missing) >= f.missing_from_packages) over own >= f.another_from_items
),
by_counts as (
    select c.as_of, c.troop, o.troop as home, count(*) as items,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'on_hand', null, s.item || ' counted', null, s.on_hand)
            order by s.row_no) as evidence
    from counted c
    join measures.items o on o.as_of = c.as_of and o.item = c.item and o.troop <> c.troop
        and o.on_hand_or_expected = c.on_hand
    join accepted.stock s on s.troop = c.troop and s.week_ending = c.as_of and s.item = c.item
    group by c.as_of, c.troop, o.troop
    having count(*) = any_value(c.items) and sum(c.on_hand) > 0
)
select
    d.as_of, h.troop, concat(h.week_ending, ' ', h.home) as subject, 'ask' as severity, 'submissions' as about,
    null as at_stake, null as packages, null as met,
    said.count(h.number, 'participant', 'participants') || ' in ' || said.week(h.week_ending)
        || ' are on the roster of troop ' || h.home || ', and ' || coalesce(o.number, 0) || ' on this troop''s own.' as what,
    'Ask whether the workbook is another troop''s with this troop''s code on its cover.' as next_step,
    'Is the workbook of ' || said.week(h.week_ending)
        || ' your own troop''s? Several of its participants are not on your roster.' as ask,
    h.evidence
from chosen.days d
join homes h on h.week_ending <= d.as_of
left join own o on o.troop = h.troop and o.week_ending = h.week_ending
cross join season.thresholds f
where h.number >= f.another_from_participants and h.number > coalesce(o.number, 0)
union all by name
select
    as_of, troop, concat(as_of, ' ', home, ' counts') as subject, 'ask' as severity, 'submissions' as about,
    null as at_stake, null as packages, null as met,
    'All ' || items || ' counts of ' || said.week(as_of) || ' are what troop ' || home
        || ' has on hand, and not what this troop should have.' as what,
    'Ask whether the workbook is another troop''s with this troop''s code on its cover.' as next_step,
    'Are the counts of ' || said.week(as_of)
        || ' your own troop''s? They are far from what you should have on hand.' as ask,
    evidence
from by_counts
