-- One row a troop, item and day: packages that came, went, were damaged, handed out or sold at stalls. What a submission
-- reports counts from its week's end on.
-- Sources: accepted.supply, facts.moves, accepted.stock, accepted.families, accepted.stalls.
with events as (
    select
        troop, item, date as on_day,
        case kind when 'returned' then -packages when 'exchange' then 0 else packages end as supplied,
        0 as moved_in, 0 as moved_out,
        case kind when 'exchange' then -packages else 0 end as damaged,
        0 as handed_out, 0 as stall
    from accepted.supply
    union all
    select giver, item, week_ending, 0, 0, packages, 0, 0, 0 from facts.moves where giver <> 'outside'
    union all
    select receiver, item, week_ending, 0, packages, 0, 0, 0, 0 from facts.moves where receiver <> 'outside'
    union all
    select troop, item, week_ending, 0, 0, 0, damaged, 0, 0 from accepted.stock where item is not null
    union all
    select troop, item, week_ending, 0, 0, 0, 0, packages, 0 from accepted.families where item is not null
    union all
    select troop, item, week_ending, 0, 0, 0, 0, 0, packages from accepted.stalls where item is not null
)
select
    troop, item, on_day,
    sum(supplied)::bigint as supplied, sum(moved_in)::bigint as moved_in, sum(moved_out)::bigint as moved_out,
    sum(damaged)::bigint as damaged, sum(handed_out)::bigint as handed_out, sum(stall)::bigint as stall
from events
group by all
