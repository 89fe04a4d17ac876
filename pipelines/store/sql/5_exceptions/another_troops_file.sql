-- One row an asked day, troop and week whose workbook fits another troop: its participants, or its counts.
-- All troops together.
-- Sources: chosen.days, accepted.families, accepted.roster, accepted.stock, measures.items, season.thresholds.
-- Label: Another troop's workbook
-- Meaning: another_from_participants or more of a week's participants are on another troop's roster, and more than on
-- the troop's own; or another_from_items or more counts are off by missing_from_packages or more, and all counts are
-- what another troop has on hand, which by chance another_by_chance troops have at most. Without an amount.
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
on_hand as (
    select as_of, troop, item, on_hand_or_expected as packages
    from measures.items
    where on_hand_or_expected is not null
),
alike as (
    select as_of, item, packages, count(*) as troops, sum(count(*)) over (partition by as_of, item) as of_all
    from on_hand
    group by as_of, item, packages
),
-- A workbook's counts as one value, and how many other troops would have them all by chance: the share of troops that
-- has each count, the two troops in question left out.
suspects as (
    select
        c.as_of, c.troop, list(c.item order by c.item) as items, list(c.on_hand order by c.item) as counts,
        max(a.of_all) * product(greatest(a.troops - 2, 0)::double / greatest(a.of_all - 2, 1)) as by_chance
    from counted c
    join alike a on a.as_of = c.as_of and a.item = c.item and a.packages = c.on_hand
    group by all
    having sum(c.on_hand) > 0
),
others as (
    select a.as_of, a.items, o.troop, list(o.packages order by o.item) as counts
    from (select distinct as_of, items, unnest(items) as item from suspects) a
    join on_hand o on o.as_of = a.as_of and o.item = a.item
    group by a.as_of, a.items, o.troop
    having count(*) = len(a.items)
),
by_counts as (
    select
        p.as_of, p.troop, o.troop as home, len(p.items) as items,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'on_hand', null, s.item || ' counted', null, s.on_hand)
            order by s.row_no) as evidence
    from suspects p
    cross join season.thresholds f
    join others o on o.as_of = p.as_of and o.items = p.items and o.counts = p.counts and o.troop <> p.troop
    join accepted.stock s on s.troop = p.troop and s.week_ending = p.as_of and s.on_hand is not null
    where p.by_chance <= f.another_by_chance
    group by p.as_of, p.troop, o.troop, p.items
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
