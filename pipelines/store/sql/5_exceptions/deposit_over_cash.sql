-- One row an asked day and troop that banked more than the cash it reported. The latest deposits are the ones beyond it.
-- Sources: measures.standing, accepted.banked, season.thresholds.
-- Label: A deposit larger than the cash taken
-- Meaning: Deposits exceed the cash and cheques reported by deposit_over_from or more. At stake is the difference.
-- Most often cash of a family or a stall was not written down, or other money was banked with it.
with over as (
    select s.as_of, s.troop, s.cash, s.banked, -s.not_banked as at_stake
    from measures.standing s
    cross join season.thresholds f
    where -s.not_banked >= f.deposit_over_from
),
latest as (
    select
        o.*, b.date, b.slip, b.amount, b.file_no, b.sheet, b.row_no,
        sum(b.amount) over (partition by o.as_of, o.troop order by b.date desc, b.week_ending desc, b.file_no desc,
            b.row_no desc rows unbounded preceding) as so_far
    from over o
    join accepted.banked b on b.troop = o.troop and b.week_ending <= o.as_of and b.amount > 0
        and coalesce(b.kind, 'deposit') = 'deposit'
),
parts as (
    select *, least(amount, greatest(at_stake - so_far + amount, 0)) as part
    from latest
),
gathered as (
    select
        as_of, troop, sum(part) as found,
        list(said.evidence(file_no, sheet, row_no, 'amount', null,
            'of the deposit of ' || said.day(date) || coalesce(', slip ' || slip, ''), part, null)
            order by date, file_no, row_no) as evidence
    from parts
    where part > 0
    group by all
)
select
    o.as_of, o.troop, '' as subject, 'ask' as severity, 'cash' as about, o.at_stake, null as packages, null as met,
    'Deposits come to ' || said.money(o.banked) || ', the cash reported to ' || said.money(o.cash) || ': '
        || said.money(o.at_stake) || ' more was banked than taken in.' as what,
    'Ask whether cash was not written down, or other money was banked with it.' as next_step,
    'Is there cash that is not on a sheet yet, or was other money banked with it?' as ask,
    coalesce(g.evidence, []) || case when o.at_stake > coalesce(g.found, 0)
        then [said.worked_out('more cash was given back than taken', o.at_stake - coalesce(g.found, 0), null)]
        else [] end as evidence
from over o
left join gathered g using (as_of, troop)
