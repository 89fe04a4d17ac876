-- One row an asked day, troop and deposit that is listed more than once: the same day, amount and slip.
-- Sources: chosen.days, accepted.banked.
-- Label: A deposit listed twice
-- Meaning: A deposit of the same day, amount and slip stands in two weeks, or twice in one. It counts as often as it is
-- listed, so that more seems to be banked than was. At stake is what is counted beyond the first.
-- Asked: before it is sent.
with listed as (
    select
        *, trim(coalesce(slip, '')) as same_slip,
        row_number() over (partition by troop, date, amount, same_slip order by week_ending, file_no, row_no) as nth
    from accepted.banked
    where amount > 0
),
again as (
    select distinct d.as_of, l.troop, l.date, l.amount, l.same_slip
    from chosen.days d
    join listed l on l.week_ending <= d.as_of and l.nth > 1
),
gathered as (
    select
        a.as_of, a.troop, a.date, a.amount, a.same_slip, any_value(l.slip) as slip, count(*) as times,
        max(l.week_ending) as last, min(l.week_ending) as first,
        list(said.evidence(l.file_no, l.sheet, l.row_no, 'amount', null,
            case when l.nth = 1 then 'listed first in ' else 'listed again in ' end || said.week(l.week_ending),
            case when l.nth > 1 then l.amount end, null) order by l.nth) as evidence
    from again a
    join listed l using (troop, date, amount, same_slip)
    where l.week_ending <= a.as_of
    group by all
)
select
    g.as_of, g.troop, g.date || ' ' || g.amount || case when g.same_slip <> '' then ' ' || g.same_slip else '' end as subject,
    'ask' as severity, 'cash' as about, (g.amount * (g.times - 1))::decimal(18, 2) as at_stake, null as packages,
    null as met,
    'The deposit of ' || said.day(g.date) || ' (' || said.money(g.amount) || coalesce(', slip ' || nullif(g.slip, ''), '')
        || ') is listed ' || g.times || ' times, '
        || case when g.first = g.last then 'all in ' || said.week(g.first)
            else 'first in ' || said.week(g.first) || ', last in ' || said.week(g.last) end || '.' as what,
    'Ask whether it is one deposit, and have it taken out where it stands again.' as next_step,
    'Is the deposit of ' || said.day(g.date) || ' of ' || said.money(g.amount) || ' one deposit, or were there '
        || g.times || '?' as ask,
    g.evidence
from gathered g
