-- One row an asked day and troop whose bank balance, as somebody read it, lies outside what should be there.
-- A hole stays known until a newer balance is read, or lines of the bank bring what was missing.
-- Card money of the week in which it was read, and payments that have not cleared, may or may not be in it yet.
-- Sources: chosen.days, measures.bank, accepted.cover, accepted.banked, facts.family_weeks, facts.stalls,
-- facts.remittance_spans, season.thresholds.
-- Label: The bank differs from the sale's money
-- Meaning: The balance read is at least bank_from below the sale's money that should be in the bank that day, or at
-- least bank_over_from above it: an account may hold other money. At stake is the difference. What was lacking stays known
-- until a newer balance is read or lines of the bank bring it.
with asked as (
    select d.as_of, c.troop, c.bank_balance, c.balance_on, c.file_no, c.sheet, c.row_no
    from chosen.days d
    join accepted.cover c on c.week_ending <= d.as_of and c.balance_on <= d.as_of
    where c.bank_balance is not null
    qualify row_number() over (partition by d.as_of, c.troop order by c.balance_on desc, c.week_ending desc) = 1
),
card as (
    select troop, week_ending, sum(card) as card from facts.family_weeks group by all
    union all by name
    select troop, week_ending, sum(card) as card from facts.stalls group by all
),
pieces as (
    select a.as_of, a.troop, 1 as place, b.date as on_day, b.file_no, b.sheet, b.row_no, 'amount' as column_name,
        'deposit of ' || said.day(b.date) as says, b.amount as low, b.amount as high
    from asked a
    join accepted.banked b on b.troop = a.troop and b.week_ending <= a.as_of and b.date <= a.balance_on
    union all by name
    select a.as_of, a.troop, 2 as place, c.week_ending as on_day, null as file_no, null as sheet, null as row_no,
        null as column_name, 'card money of ' || said.week(c.week_ending) as says,
        case when c.week_ending <= a.balance_on then c.card else least(c.card, 0) end as low,
        case when c.week_ending <= a.balance_on then c.card else greatest(c.card, 0) end as high
    from asked a
    join card c on c.troop = a.troop and c.week_ending <= a.as_of and c.week_ending <= a.balance_on + 6 and c.card <> 0
    union all by name
    select a.as_of, a.troop, 3 as place, r.date as on_day, r.file_no, r.sheet, r.row_no, 'amount' as column_name,
        r.state || ' ' || r.reference as says,
        -r.amount as low, case r.state when 'cleared' then -r.amount else 0 end as high
    from asked a
    join facts.remittance_spans r on r.troop = a.troop and r.state in ('cleared', 'pending')
        and r.from_on <= a.balance_on and (r.until_on is null or r.until_on > a.balance_on)
    union all by name
    select a.as_of, a.troop, 4 as place, b.date as on_day, b.file_no, b.sheet, b.row_no, 'amount' as column_name,
        'came in on ' || said.day(b.date) as says, -b.amount as low, null as high
    from asked a
    join measures.bank b on b.as_of = a.as_of and b.troop = a.troop and b.line <> '' and b.amount > 0
        and b.date > a.balance_on and b.answers_on <= a.balance_on
),
sums as (
    select
        a.*, coalesce(sum(p.low), 0) as low, coalesce(sum(p.high), 0) as high
    from asked a
    left join pieces p using (as_of, troop)
    group by all
),
off as (
    select s.*, s.bank_balance < s.low as is_short,
        case when s.bank_balance < s.low then s.low - s.bank_balance else s.bank_balance - s.high end as at_stake
    from sums s
    cross join season.thresholds f
    where s.low - s.bank_balance >= f.bank_from
        or (s.bank_balance - s.high >= f.bank_over_from and s.balance_on >= s.as_of - 6)
),
evidence as (
    select
        o.as_of, o.troop,
        list(said.evidence(p.file_no, p.sheet, p.row_no, p.column_name, null, p.says,
            case when o.is_short then p.low else -p.high end, null) order by p.place, p.on_day, p.file_no, p.row_no, p.says, p.low, p.high)
            filter (case when o.is_short then p.low else p.high end <> 0) as evidence
    from off o
    join pieces p using (as_of, troop)
    group by all
)
select
    o.as_of, o.troop, '' as subject, case when o.is_short then 'ask' else 'watch' end as severity, 'cash' as about,
    o.at_stake, null as packages, null as met,
    'On ' || said.day(o.balance_on) || ' the bank held ' || said.money(o.bank_balance) || '; of the sale at '
        || case when o.is_short then 'least ' || said.money(o.low) else 'most ' || said.money(o.high) end
        || ' should have been there: ' || said.money(o.at_stake)
        || case when o.is_short then ' less than that.' else ' more than that.' end as what,
    case when o.is_short then 'Go through deposits and payments together; other expenses may have come out of the account.'
        else 'Ask whether the account holds other money, or deposits are not reported.' end as next_step,
    case when o.is_short then 'Did anything else come out of this account?'
        else 'Does the account hold other money too?' end as ask,
    coalesce(e.evidence, []) || [said.evidence(o.file_no, o.sheet, o.row_no, 'bank_balance', null,
        'the bank on ' || said.day(o.balance_on), case when o.is_short then -1 else 1 end * o.bank_balance, null)] as evidence
from off o
left join evidence e using (as_of, troop)
