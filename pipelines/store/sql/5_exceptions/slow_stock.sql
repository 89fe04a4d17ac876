-- One row an asked day, troop and item of which much will be left. Sources: measures.outlook, accepted.stock,
-- season.items, season.thresholds.
-- Label: Slow stock
-- Meaning: At the pace of the last three weeks submitted, and after what hand-delivered orders still need,
-- slow_from_cases cases or more will be left when the season ends. At stake is their value. To ask in the last two
-- weeks, before that to watch. Not judged before slow_weeks weeks are submitted.
with slow as (
    select o.*, i.title, i.packages_per_case, o.on_hand - o.needed - o.sells_yet as packages
    from measures.outlook o
    join season.items i on i.code = o.item
    cross join season.thresholds f
    where o.weeks_submitted >= f.slow_weeks
        and o.on_hand - o.needed - o.sells_yet >= f.slow_from_cases * i.packages_per_case
)
select
    s.as_of, s.troop, s.item as subject, case when s.weeks_left <= 2 then 'ask' else 'watch' end as severity,
    'stock' as about, s.packages * s.price as at_stake, s.packages, null as met,
    said.packages(s.on_hand) || ' of ' || s.title || ' are on hand'
        || coalesce(', ' || round(s.weeks_of_supply, 1)::decimal(9, 1) || ' weeks of supply with '
            || said.count(s.weeks_left, 'week', 'weeks') || ' left', ' and none sold lately') || '; about '
        || said.count(s.packages // s.packages_per_case, 'case', 'cases') || ' may be left at the end.' as what,
    'Offer them to a troop that runs out, or ask whether the depot takes cases back.' as next_step,
    'Would a stall or another troop help to sell these?' as ask,
    [said.evidence(c.file_no, c.sheet, c.row_no, 'on_hand', null,
            case when s.is_counted then 'counted' else 'should be on hand' end, s.on_hand * s.price, s.on_hand)]
        || case when s.needed > 0 then [said.worked_out('still needed for orders delivered by hand',
            -s.needed * s.price, -s.needed)] else [] end
        || [said.worked_out(s.recent_sold || ' sold in ' || said.count(s.recent_weeks, 'week', 'weeks') || ', at that pace in '
            || said.count(s.weeks_left, 'week', 'weeks'), -s.sells_yet * s.price, -s.sells_yet)] as evidence
from slow s
left join accepted.stock c on c.troop = s.troop and c.item = s.item and c.week_ending = s.as_of and s.is_counted
