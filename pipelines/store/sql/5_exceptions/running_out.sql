-- One row an asked day, troop and item that will not last the coming week. Sources: measures.outlook, accepted.stock,
-- season.items, season.thresholds.
-- Label: About to run out
-- Meaning: After what hand-delivered orders still need, less than this part of one week's sales is on hand, at the
-- pace of the last three weeks submitted: running_out_below; and the week lacks running_out_from_packages or more
-- packages. At stake is the value of what lacks. To act now where orders already paid cannot be filled.
with short as (
    select o.*, i.title, o.needed + o.sells_a_week - o.on_hand as packages
    from measures.outlook o
    join season.items i on i.code = o.item
    cross join season.thresholds f
    where o.weeks_left > 0 and o.on_hand - o.needed < f.running_out_below * o.sells_a_week
        and o.needed + o.sells_a_week - o.on_hand >= f.running_out_from_packages
)
select
    s.as_of, s.troop, s.item as subject, case when s.needed > greatest(s.on_hand, 0) then 'act now' else 'ask' end as severity,
    'stock' as about, s.packages * s.price as at_stake, s.packages, null as met,
    said.packages(s.on_hand) || ' of ' || s.title || case when abs(s.on_hand) = 1 then ' is' else ' are' end || ' on hand'
        || case when s.needed > 0 then ', ' || s.needed || ' still to be handed out for orders paid online' else '' end
        || '; about ' || s.sells_a_week || ' a week go out. ' || said.packages(s.packages) || ' may be lacking next week.'
        as what,
    'Fetch from the depot, or find a troop that can spare some.' as next_step,
    'How many do you want before the next weekend?' as ask,
    case when s.needed > 0 then [said.worked_out('still needed for orders delivered by hand', s.needed * s.price, s.needed)]
            else [] end
        || [said.worked_out(s.recent_sold || ' sold in ' || said.count(s.recent_weeks, 'week', 'weeks') || ', at that pace in one week',
                s.sells_a_week * s.price, s.sells_a_week),
            said.evidence(c.file_no, c.sheet, c.row_no, 'on_hand', null,
                case when s.is_counted then 'counted' else 'should be on hand' end, -s.on_hand * s.price, -s.on_hand)]
        as evidence
from short s
left join accepted.stock c on c.troop = s.troop and c.item = s.item and c.week_ending = s.as_of and s.is_counted
