-- One row an asked day, troop and item of which much will probably be left. Sources: measures.outlook, accepted.stock,
-- facts.submitted, season.items, season.thresholds.
-- Label: Slow stock
-- Meaning: slow_from_cases cases or more are on hand beyond what will go out by the season's end in 9 of 10 such cases,
-- and beyond what orders already paid still need. At stake is their value. To ask in the last two weeks, before that to
-- watch. Not judged before slow_weeks weeks are submitted.
with slow as (
    select o.*, i.title, i.packages_per_case, o.on_hand - greatest(o.needed, o.high)::bigint as packages
    from measures.outlook o
    join season.items i on i.code = o.item
    cross join season.thresholds f
    where o.troop is not null
        and (select count(*) from facts.submitted b where b.troop = o.troop and b.week_ending <= o.as_of) >= f.slow_weeks
        and o.on_hand - greatest(o.needed, o.high)::bigint >= f.slow_from_cases * i.packages_per_case
)
select
    s.as_of, s.troop, s.item as subject, case when s.weeks - s.week <= 2 then 'ask' else 'watch' end as severity,
    'stock' as about, s.packages * s.price as at_stake, s.packages, null as met,
    said.packages(s.on_hand) || ' of ' || s.title || ' are on hand; by the season''s end probably about '
        || s.mean.round()::bigint || ' more go out, in 8 of 10 such cases between ' || s.low::bigint || ' and '
        || s.high::bigint || '. About ' || said.count(s.packages // s.packages_per_case, 'case', 'cases')
        || ' may be left.' as what,
    'Offer them to a troop that runs out, or ask whether the depot takes cases back.' as next_step,
    'Would a stall or another troop help to sell these?' as ask,
    [said.evidence(c.file_no, c.sheet, c.row_no, 'on_hand', null,
            case when s.is_counted then 'counted' else 'should be on hand' end, s.on_hand * s.price, s.on_hand),
        said.worked_out(case when s.needed > s.high then 'still needed for orders delivered by hand'
            else 'what goes out at most in 9 of 10 such cases' end, -greatest(s.needed, s.high)::bigint * s.price,
            -greatest(s.needed, s.high)::bigint)] as evidence
from slow s
left join accepted.stock c on c.troop = s.troop and c.item = s.item and c.week_ending = s.as_of and s.is_counted
