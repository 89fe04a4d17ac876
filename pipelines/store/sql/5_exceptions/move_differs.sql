-- One row an asked day, giver, receiver and item whose two sides tell different numbers of packages moved so far; it
-- stands with the troop that told nothing, else with the receiver. Weeks that one side has not submitted are left out.
-- Sources: chosen.days, accepted.moves, facts.submitted, season.items.
-- Label: A move told differently by its two sides
-- Meaning: What one troop says it gave is not what the other says it got. The giver's word counts in every figure. At
-- stake is the value of the difference.
with told as (
    select
        case direction when 'out' then troop else other_troop end as giver,
        case direction when 'out' then other_troop else troop end as receiver,
        direction, item, packages, week_ending, file_no, sheet, row_no
    from accepted.moves
    where other_troop <> 'outside' and item is not null
),
both_sent as (
    select t.*
    from told t
    join facts.submitted g on g.troop = t.giver and g.week_ending = t.week_ending
    join facts.submitted r on r.troop = t.receiver and r.week_ending = t.week_ending
),
sums as (
    select
        d.as_of, t.giver, t.receiver, t.item,
        coalesce(sum(t.packages) filter (t.direction = 'out'), 0) as given,
        coalesce(sum(t.packages) filter (t.direction = 'in'), 0) as got,
        list(t order by t.week_ending, t.file_no, t.row_no) as rows
    from chosen.days d
    join both_sent t on t.week_ending <= d.as_of
    group by all
)
select
    s.as_of, case when s.given = 0 then s.giver else s.receiver end as troop,
    s.item || case when s.given = 0 then ' to ' || s.receiver else ' from ' || s.giver end as subject,
    'ask' as severity, 'stock' as about, abs(s.given - s.got) * i.price as at_stake, abs(s.given - s.got) as packages,
    null as met,
    'Troop ' || s.giver || ' says it gave troop ' || s.receiver || ' ' || said.packages(s.given) || ' of ' || i.title
        || ', troop ' || s.receiver || ' says it got ' || case when s.got = 0 then 'none' else format('{:,}', s.got) end
        || '. ' || format('{:,}', s.given) || case when s.given = 1 then ' counts.' else ' count.' end as what,
    'Ask both troops which number is right; one of them sends its week again.' as next_step,
    'Which number of packages is right?' as ask,
    list_transform(s.rows, lambda t: said.evidence(t.file_no, t.sheet, t.row_no, 'packages', null,
        case t.direction when 'out' then 'given by ' || s.giver else 'got by ' || s.receiver end,
        case when (t.direction = 'out') = (s.given > s.got) then 1 else -1 end * t.packages * i.price,
        case when (t.direction = 'out') = (s.given > s.got) then 1 else -1 end * t.packages)) as evidence
from sums s
join season.items i on i.code = s.item
where s.given <> s.got
