-- One row an asked day and troop that has far more packages than last season's average explains, and still has them.
-- A troop without a last season is held against the area's average (a ratio of sums). All troops together.
-- Sources: measures.items, measures.standing, accepted.last_season, accepted.supply, season.thresholds.
-- Label: Ordered far above last season
-- Meaning: Stocked packages available exceed ordered_above times what last season explains by ordered_from_packages or
-- more. It explains its packages for each participant, or this season's sales so far at last season's pace, whichever
-- is more. At stake is what is beyond that and still on hand, at the mean price.
with last_year as (
    select troop, arg_max(packages, week_no) as packages, arg_max(participants, week_no) as participants
    from accepted.last_season
    where coalesce(item, '') = ''  -- of all items
    group by all
    having arg_max(participants, week_no) > 0
),
by_then as (
    select d.as_of, l.troop, arg_max(l.packages, l.week_no) as packages
    from chosen.days d
    join accepted.last_season l on l.week_no <= d.week_no and coalesce(l.item, '') = ''
    group by all
),
area as (
    select d.as_of, sum(l.packages) as packages, sum(l.participants) as participants, sum(b.packages) as by_then
    from chosen.days d
    cross join last_year l
    left join by_then b on b.as_of = d.as_of and b.troop = l.troop
    group by all
),
stock as (
    select
        as_of, troop, sum(available) as available, sum(available * price) as worth,
        greatest(sum(on_hand_or_expected), 0) as on_hand, sum(sold_from_stock) as sold
    from measures.items
    where is_stocked
    group by all
),
held_against as (
    select
        s.*, k.registered, l.troop is not null as has_own,
        coalesce(l.packages, a.packages) as last_packages, coalesce(l.participants, a.participants) as last_participants,
        case when l.troop is null then a.by_then else b.packages end as last_by_then
    from stock s
    join measures.standing k using (as_of, troop)
    join area a on a.as_of = s.as_of
    left join last_year l on l.troop = s.troop
    left join by_then b on b.as_of = s.as_of and b.troop = s.troop
    where k.registered > 0 and s.available > 0
),
beyond as (
    select
        *,
        greatest(
            last_packages * registered // last_participants,
            coalesce(sold * last_packages // nullif(last_by_then, 0), 0)
        ) as explained
    from held_against
),
far as (
    select b.*, least(b.available - b.explained, b.on_hand)::bigint as packages
    from beyond b
    cross join season.thresholds f
    where 100 * b.available - (100 * f.ordered_above)::bigint * b.explained >= 100 * f.ordered_from_packages and b.on_hand >= f.ordered_from_packages
),
valued as (
    -- The mean price times the packages, in whole cents without dividing money.
    select *, ((worth * 100)::hugeint * packages // available * 0.01)::decimal(18, 2) as at_stake
    from far
),
receipts as (
    select
        v.as_of, v.troop,
        list(said.evidence(p.file_no, p.sheet, p.row_no, 'packages', null, p.kind || ' ' || p.document || ', ' || p.item,
            null, p.packages) order by p.date, p.document, p.item) as evidence
    from valued v
    join accepted.supply p on p.troop = v.troop and p.date <= v.as_of and p.kind in ('opening', 'depot')
    group by all
)
select
    v.as_of, v.troop, '' as subject, 'ask' as severity, 'stock' as about, v.at_stake, v.packages, null as met,
    said.packages(v.available) || ' for ' || said.count(v.registered, 'participant', 'participants') || '; '
        || case when v.has_own then 'the troop''s' else 'the area''s' end || ' last season and the sales so far explain '
        || format('{:,}', v.explained) || '. ' || format('{:,}', v.on_hand::integer) || ' are still on hand.' as what,
    'Talk through the plan for them before more is fetched.' as next_step,
    'What is the plan for these packages?' as ask,
    [said.worked_out('beyond that and still on hand, at the mean price', v.at_stake, v.packages)]
        || coalesce(r.evidence, []) as evidence
from valued v
left join receipts r using (as_of, troop)
