-- One row an asked day, troop and item whose count is off and whose supply record does not explain it.
-- Sources: measures.unaccounted, accepted.supply, facts.moves, accepted.stock, accepted.families, accepted.stalls,
-- season.items, season.thresholds.
-- Label: Packages not accounted for
-- Meaning: missing_from_packages or more packages of an item should be on hand and were not counted, or were counted
-- beyond it, less those that wait for the supply record. At stake is their value; to act now from missing_act_from on.
-- Most often a figure was mistyped or an entry is late.
with off as (
    select u.*, abs(u.unexplained) as packages, sign(u.unexplained) as side
    from measures.unaccounted u
    cross join season.thresholds f
    where abs(u.unexplained) >= f.missing_from_packages
),
events as (
    select troop, item, date as on_day, file_no, sheet, row_no, 'packages' as column_name, null as in_item,
        kind || ' ' || document as says, case kind when 'returned' then -packages else packages end as packages
    from accepted.supply
    union all by name
    select giver as troop, item, week_ending as on_day, file_no, sheet, row_no, 'packages' as column_name,
        null as in_item, 'moved to ' || receiver as says, -packages as packages
    from facts.moves
    union all by name
    select receiver as troop, item, week_ending as on_day, file_no, sheet, row_no, 'packages' as column_name,
        null as in_item, 'moved in from ' || giver as says, packages
    from facts.moves
    union all by name
    select troop, item, week_ending as on_day, file_no, sheet, row_no, 'damaged' as column_name, null as in_item,
        'damaged' as says, -damaged as packages
    from accepted.stock
    where damaged <> 0
    union all by name
    select troop, item, week_ending as on_day, file_no, sheet, row_no, 'packages' as column_name, item as in_item,
        'taken by ' || participant as says, -packages as packages
    from accepted.families
    where item is not null and packages <> 0
    union all by name
    select troop, item, week_ending as on_day, file_no, sheet, row_no, 'packages' as column_name, item as in_item,
        'sold at a stall' as says, -packages as packages
    from accepted.stalls
    where item is not null and packages <> 0
),
pieces as (
    select o.as_of, o.troop, o.item, 1 as place, c.file_no, c.sheet, c.row_no, 'on_hand' as column_name, null as in_item,
        'counted' as says, -c.on_hand as packages, o.as_of as on_day
    from off o
    join accepted.stock c on c.troop = o.troop and c.item = o.item and c.week_ending = o.as_of
    union all by name
    select as_of, troop, item, 2 as place, null as file_no, null as sheet, null as row_no, null as column_name,
        null as in_item, 'waits for the supply record' as says, -waiting as packages, null as on_day
    from off
    where waiting <> 0
    union all by name
    select o.as_of, o.troop, o.item, 3 as place, e.file_no, e.sheet, e.row_no, e.column_name, e.in_item, e.says,
        e.packages, e.on_day
    from off o
    join events e on e.troop = o.troop and e.item = o.item and e.on_day <= o.as_of
),
evidence as (
    select p.as_of, p.troop, p.item,
        list(said.evidence(p.file_no, p.sheet, p.row_no, p.column_name, p.in_item, p.says,
            p.packages * o.side * o.price, p.packages * o.side)
            order by p.place, p.on_day desc, p.file_no, p.row_no, p.says) as evidence
    from pieces p
    join off o using (as_of, troop, item)
    group by all
)
select
    o.as_of, o.troop, o.item as subject,
    case when o.side < 0 then 'ask' when o.packages * o.price >= f.missing_act_from then 'act now' else 'ask' end as severity,
    'stock' as about, o.packages * o.price as at_stake, o.packages, null as met,
    case when o.side > 0
        then said.packages(o.packages) || ' of ' || i.title || ' (' || said.money(o.packages * o.price)
            || ') are not accounted for: ' || format('{:,}', k.expected_on_hand - o.waiting) || ' should be on hand, '
            || format('{:,}', k.on_hand) || ' were counted'
            || case when k.on_hand > 0 and k.on_hand = (k.expected_on_hand - o.waiting) // i.packages_per_case
                then ', as many as there should be cases.' else '.' end
        else said.packages(o.packages) || ' of ' || i.title || ' more than expected were counted: '
            || format('{:,}', k.on_hand) || ' in place of ' || format('{:,}', k.expected_on_hand - o.waiting) || '.'
    end as what,
    'Ask for a second count, in packages and not in cases, and for entries not sent yet.' as next_step,
    'Could two of you count this item again, in packages, and look for an entry that is missing?' as ask,
    e.evidence
from off o
join measures.items k using (as_of, troop, item)
join season.items i on i.code = o.item
join evidence e using (as_of, troop, item)
cross join season.thresholds f
