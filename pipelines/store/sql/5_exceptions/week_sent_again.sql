-- One row an asked day, troop and week whose Families, or one of whose stalls, an earlier week told word for word.
-- Sources: chosen.days, accepted.families, facts.stalls, season.items, season.thresholds.
-- Label: An earlier week sent again
-- Meaning: The Families of a week (again_from_lines or more filled lines, packages among them) are those of an earlier
-- week, or a stall was reported with two weeks, the same in everything. At stake is the value of packages counted twice.
-- Asked: before it is sent.
with filled as (
    select f.*, coalesce(f.packages * i.price, 0) as worth
    from accepted.families f
    left join season.items i on i.code = f.item
    where coalesce(f.packages, 0) <> 0 or coalesce(f.cash, 0) <> 0 or coalesce(f.card, 0) <> 0
),
printed as (
    select
        troop, week_ending, count(*) as lines, sum(worth)::decimal(18, 2) as worth, sum(packages)::bigint as packages,
        sum(coalesce(cash, 0) + coalesce(card, 0)) as money,
        bit_xor(hash(participant, item, coalesce(packages, 0), coalesce(cash, 0), coalesce(card, 0))) as print
    from filled
    group by all
),
families as (
    select p.*, lag(p.week_ending) over (partition by p.troop, p.print, p.lines, p.packages, p.money
        order by p.week_ending) as earlier
    from printed p
    cross join season.thresholds f
    where p.lines >= f.again_from_lines
),
stalls as (
    select *, lag(week_ending) over (partition by troop, date, start, place, packages, sold_value, cash, card
        order by week_ending) as earlier
    from facts.stalls
    where packages <> 0 or cash <> 0 or card <> 0
),
pieces as (
    select
        f.troop, f.week_ending, f.earlier, 'families' as part, l.file_no, l.sheet, l.row_no, 'packages' as column_name,
        l.item, l.participant as says, l.worth, coalesce(l.packages, 0) as packages
    from families f
    join filled l on l.troop = f.troop and l.week_ending = f.week_ending and l.item is not null
    where f.earlier is not null
    union all by name
    select troop, week_ending, earlier, 'stalls' as part, file_no, sheet, row_no, 'date' as column_name, null as item,
        'the stall' || coalesce(' at ' || place, '') || ' on ' || said.day(date) as says, sold_value as worth, packages
    from stalls
    where earlier is not null
),
gathered as (
    select
        troop, week_ending, max(earlier) as earlier, bool_or(part = 'families') as has_families,
        count(*) filter (part = 'stalls') as stalls, sum(worth) as at_stake, sum(packages) as packages,
        list(said.evidence(file_no, sheet, row_no, column_name, item, says, worth, packages)
            order by part, row_no, item) as evidence
    from pieces
    group by all
)
select
    d.as_of, g.troop, g.week_ending::varchar as subject, 'ask' as severity, 'submissions' as about,
    g.at_stake::decimal(18, 2) as at_stake, g.packages, null as met,
    case when g.has_families then 'Families of ' || said.week(g.week_ending) || ' is the same as of '
        else said.count(g.stalls, 'stall', 'stalls') || ' of ' || said.week(g.week_ending) || ' stood already in ' end
        || said.week(g.earlier) || case when g.has_families and g.stalls > 0
            then ', and so ' || case when g.stalls = 1 then 'is a stall' else 'are ' || g.stalls || ' stalls' end
            else '' end
        || ': ' || said.packages(g.packages) || ' may be counted twice.' as what,
    'Ask whether an earlier workbook was sent again with a new date.' as next_step,
    'Did the workbook of ' || said.week(g.earlier) || ' come again for ' || said.week(g.week_ending)
        || '? ' || case when g.has_families then 'Families is the same in both.' else 'A stall stands in both.' end as ask,
    g.evidence
from chosen.days d
join gathered g on g.week_ending <= d.as_of
