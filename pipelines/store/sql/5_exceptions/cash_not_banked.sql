-- One row an asked day and troop with cash of weeks that ended bank_within_days before or earlier and that no deposit
-- accounts for. Deposits go to the oldest cash first; cash given back comes off like a deposit.
-- Sources: chosen.days, accepted.families, accepted.stalls, accepted.banked, measures.standing, season.thresholds.
-- Label: Cash not banked
-- Meaning: Cash and cheques of weeks that ended bank_within_days or more days ago come to unbanked_from or more beyond
-- all deposits, first in first out. At stake is that cash. To act now once some of it is a week older still; only to
-- watch while the latest week is not submitted.
with cash as (
    select troop, week_ending, file_no, sheet, row_no, 'cash' as column_name, 'cash of ' || participant as says, cash
    from accepted.families
    where cash <> 0
    union all by name
    select troop, week_ending, file_no, sheet, row_no, 'cash' as column_name,
        'cash of a stall on ' || said.day(date) as says, cash
    from accepted.stalls
    where cash <> 0
    union all by name
    select troop, week_ending, file_no, sheet, row_no, 'gift' as column_name,
        'a gift at a stall on ' || said.day(date) as says, gift as cash
    from accepted.stalls
    where gift <> 0
),
weeks as (
    select troop, week_ending, greatest(cash, 0) as came, -least(cash, 0) as went, 0 as banked from cash
    union all by name
    select troop, week_ending, 0 as came, 0 as went, amount as banked
    from accepted.banked
    where amount is not null and coalesce(kind, 'deposit') = 'deposit'
),
sums as (
    select
        d.as_of, w.troop, coalesce(sum(w.came) filter (w.week_ending <= d.as_of - f.bank_within_days), 0) as old_cash,
        sum(w.went) as went, sum(w.banked) as banked
    from chosen.days d
    cross join season.thresholds f
    join weeks w on w.week_ending <= d.as_of
    group by d.as_of, w.troop
),
tripped as (
    select s.*, s.went + s.banked as taken_off
    from sums s
    cross join season.thresholds f
    where s.old_cash - greatest(s.went + s.banked, 0) >= f.unbanked_from
),
rows as (
    select
        p.as_of, p.troop, c.* exclude (troop),
        sum(c.cash) over (partition by p.as_of, p.troop order by c.week_ending, c.file_no, c.row_no, c.says
            rows unbounded preceding) as so_far,
        greatest(p.taken_off, 0) as taken_off, p.banked
    from tripped p
    cross join season.thresholds f
    join cash c on c.troop = p.troop and c.cash > 0 and c.week_ending <= p.as_of - f.bank_within_days
),
left_over as (
    select *, least(cash, greatest(so_far - taken_off, 0)) as unbanked
    from rows
),
gathered as (
    select
        as_of, troop, any_value(banked) as banked, sum(unbanked) as at_stake, min(week_ending) as since,
        list(said.evidence(file_no, sheet, row_no, column_name, null, says || ', ' || said.week(week_ending), unbanked, null)
            order by week_ending, file_no, row_no, says) as evidence
    from left_over
    where unbanked > 0
    group by all
)
select
    g.as_of, g.troop, '' as subject,
    case when not s.submitted then 'watch' when g.as_of - g.since >= f.bank_within_days + 7 then 'act now'
        else 'ask' end as severity,
    'cash' as about,
    g.at_stake, null as packages, g.banked as met,
    said.money(g.at_stake) || ' of cash taken up to ' || said.week(g.as_of - f.bank_within_days)
        || ' is not in a deposit yet, the oldest from ' || said.week(g.since)
        || case when s.submitted then '.' else '; deposits of this week are not known, since it is not submitted.' end as what,
    'Ask when it will be banked, and whether two adults have counted it.' as next_step,
    'Which day can it go to the bank, and have two of you counted it?' as ask,
    g.evidence
from gathered g
join measures.standing s on s.as_of = g.as_of and s.troop = g.troop
cross join season.thresholds f
