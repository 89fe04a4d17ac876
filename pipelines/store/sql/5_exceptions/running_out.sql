-- One row an asked day, troop and item that will probably not last the coming week. Sources: measures.outlook,
-- accepted.stock, season.items, season.thresholds.
-- Label: About to run out
-- Meaning: Less is on hand than orders already paid still need, or than probably goes out in the coming week (the
-- middle of its range), by running_out_from_packages packages or more. At stake is the value of what lacks. To act now
-- where orders already paid cannot be filled.
with short as (
    select o.*, i.title, greatest(o.needed, o.next_middle)::bigint - o.on_hand as packages
    from measures.outlook o
    join season.items i on i.code = o.item
    cross join season.thresholds f
    where o.troop is not null and o.week < o.weeks
        and greatest(o.needed, o.next_middle)::bigint - o.on_hand >= f.running_out_from_packages
)
select
    s.as_of, s.troop, s.item as subject, case when s.needed > greatest(s.on_hand, 0) then 'act now' else 'ask' end as severity,
    'stock' as about, s.packages * s.price as at_stake, s.packages, null as met,
    said.packages(s.on_hand) || ' of ' || s.title || case when abs(s.on_hand) = 1 then ' is' else ' are' end || ' on hand'
        || case when s.needed > 0 then ', ' || s.needed || ' still to be handed out for orders paid online' else '' end
        || '; about ' || s.next_middle::bigint || ' will probably go out in the coming week. '
        || said.packages(s.packages) || ' may be lacking.' as what,
    'Fetch from the depot, or find a troop that can spare some.' as next_step,
    'How many do you want before the next weekend?' as ask,
    [said.worked_out(case when s.needed > s.next_middle then 'still needed for orders delivered by hand'
            else 'the middle of the coming week''s range' end, greatest(s.needed, s.next_middle)::bigint * s.price,
            greatest(s.needed, s.next_middle)::bigint),
        said.evidence(c.file_no, c.sheet, c.row_no, 'on_hand', null,
            case when s.is_counted then 'counted' else 'should be on hand' end, -s.on_hand * s.price, -s.on_hand)]
        as evidence
from short s
left join accepted.stock c on c.troop = s.troop and c.item = s.item and c.week_ending = s.as_of and s.is_counted
