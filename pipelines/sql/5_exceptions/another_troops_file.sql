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
known as (
    select p.*, r.troop as home,
        bool_or(r.troop = p.troop) over (partition by p.troop, p.week_ending, p.participant) as is_own
    from people p
    join (select distinct troop, participant from accepted.roster) r on r.participant = p.participant
),
homes as (
    select
        troop, week_ending, home, count(*) as number,
        sum(count(*) filter (is_own)) over (partition by troop, week_ending) as own,
        list(said.evidence(file_no, sheet, row_no, 'participant', null,
            participant || ' is on the roster of troop ' || home, null, null) order by row_no) as evidence
    from known
    where home = troop or not is_own
    group by troop, week_ending, home
),
counted as (
    select as_of, troop, item, on_hand, count(*) over own as items,
        count(*) filter (abs(missing) >= f.missing_from_packages) over own as off
    from measures.items
    cross join season.thresholds f
    where on_hand is not null
    window own as (partition by as_of, troop)
),
by_counts as (
    select c.as_of, c.troop, o.troop as home, count(*) as items,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'on_hand', null, s.item || ' counted', null, s.on_hand)
            order by s.row_no) as evidence
    from counted c
    cross join season.thresholds f
    join measures.items o on o.as_of = c.as_of and o.item = c.item and o.troop <> c.troop
        and o.on_hand_or_expected = c.on_hand
    join accepted.stock s on s.troop = c.troop and s.week_ending = c.as_of and s.item = c.item
    where c.off >= f.another_from_items
    group by c.as_of, c.troop, o.troop
    having count(*) = any_value(c.items) and sum(c.on_hand) > 0
)
select
    d.as_of, h.troop, concat(h.week_ending, ' ', h.home) as subject, 'ask' as severity, 'submissions' as about,
    null as at_stake, null as packages, null as met,
    said.count(h.number, 'participant', 'participants') || ' in ' || said.week(h.week_ending)
        || ' are on the roster of troop ' || h.home || ', and ' || coalesce(h.own, 0) || ' on this troop''s own.' as what,
    'Ask whether the workbook is another troop''s with this troop''s code on its cover.' as next_step,
    'Is the workbook of ' || said.week(h.week_ending)
        || ' your own troop''s? Several of its participants are not on your roster.' as ask,
    h.evidence
from chosen.days d
join homes h on h.week_ending <= d.as_of
cross join season.thresholds f
where h.home <> h.troop and h.number >= f.another_from_participants and h.number > coalesce(h.own, 0)
union all
select
    as_of, troop, concat(as_of, ' ', home, ' counts'), 'ask', 'submissions', null, null, null,
    'All ' || items || ' counts of ' || said.week(as_of) || ' are what troop ' || home
        || ' has on hand, and not what this troop should have.',
    'Ask whether the workbook is another troop''s with this troop''s code on its cover.',
    'Are the counts of ' || said.week(as_of) || ' your own troop''s? They are far from what you should have on hand.',
    evidence
from by_counts
