-- One row an asked day, troop and thing that somebody outside the tool looked at: each counted item, the bank balance
-- read, the organisation's own figure. ours and theirs in packages (count) or money; difference: theirs less ours;
-- explanation: the likeliest one, in words, empty where the two agree.
-- Sources: measures.items, measures.unaccounted, measures.standing, measures.bank_balances, measures.books,
-- accepted.stock, accepted.cover, accepted.moves, facts.moves, facts.remittance_spans, accepted.banked,
-- accepted.adjustments, accepted.supply, ledger.counts, ledger.proceeds, season.items.
with counted as (
    select
        i.as_of, i.troop, 'count' as about, i.item, i.as_of as on_day, i.expected_on_hand::decimal(18, 2) as ours,
        i.on_hand::decimal(18, 2) as theirs, s.file_no, s.sheet, s.row_no
    from measures.items i
    join accepted.stock s on s.troop = i.troop and s.item = i.item and s.week_ending = i.as_of
    where i.on_hand is not null
),
bank as (
    select
        s.as_of, s.troop, 'bank' as about, '' as item, b.balance_on as on_day, s.in_bank as ours, b.bank_balance as theirs,
        c.file_no, c.sheet, c.row_no
    from measures.standing s
    join measures.bank_balances b on b.as_of = s.as_of and b.troop = s.troop
    join accepted.cover c on c.troop = b.troop and c.week_ending = b.week_ending
),
organisation as (
    select as_of, troop, 'organisation' as about, '' as item, given_on as on_day, ours, theirs, file_no, sheet, row_no
    from measures.books
),
seen as (
    select * from counted
    union all by name
    select * from bank
    union all by name
    select * from organisation
),
compared as (
    select *, (theirs - ours)::decimal(18, 2) as difference
    from seen
),
off as (
    select * from compared where difference <> 0
),
documents as (
    select
        p.troop, p.document, p.date, sum(case p.kind when 'returned' then -1 else 1 end * p.packages) as packages,
        sum(case p.kind when 'returned' then -1 else 1 end * p.packages * i.price)::decimal(18, 2) as worth
    from accepted.supply p
    join season.items i on i.code = p.item
    where p.kind <> 'exchange' and i.is_stocked
    group by all
),
hints as (
    -- Counts
    select
        o.as_of, o.troop, o.about, o.item, 1 as rank, u.recorded as big,
        'the troop received ' || u.received || ', the supply record says ' || u.recorded
            || ': the record of ' || said.packages(abs(u.received - u.recorded)) || ' is not in yet, or not right' as hint
    from off o
    join measures.unaccounted u on u.as_of = o.as_of and u.troop = o.troop and u.item = o.item
    where o.about = 'count' and u.unexplained = 0
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 2 as rank, 0 as big,
        'as many were counted as there should be cases: count packages, not cases' as hint
    from off o
    join season.items i on i.code = o.item
    where o.about = 'count' and o.theirs > 0 and o.theirs = floor(o.ours / i.packages_per_case)
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 3 as rank, m.packages as big,
        case when m.troop = o.troop then 'the troop' else 'troop ' || m.troop end || ' reports ' || m.packages
            || case when m.direction = 'in' then ' moved in from ' else ' moved out to ' end || m.other_troop
            || ', which the other troop does not say so' as hint
    from off o
    join accepted.moves m on m.item = o.item and m.week_ending <= o.as_of
        and (m.troop = o.troop or m.other_troop = o.troop)
    anti join facts.moves f on f.file_no = m.file_no and f.sheet = m.sheet and f.row_no = m.row_no
    where o.about = 'count' and o.difference = case
        when (m.direction = 'in') = (m.troop = o.troop) then m.packages else -m.packages end
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 4 as rank, 0 as big,
        'as many ' || x.item || ' are ' || case when x.difference > 0 then 'too many' else 'too few' end
            || ': the two items may be taken for each other' as hint
    from off o
    join off x on x.as_of = o.as_of and x.troop = o.troop and x.about = 'count' and x.difference = -o.difference
    where o.about = 'count'
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 5 as rank, 0 as big,
        'it was off by as much at the count of ' || said.day(c.on_day) as hint
    from off o
    join ledger.counts c on c.troop = o.troop and c.item = o.item and c.on_day < o.as_of and c.missing = -o.difference
    where o.about = 'count'
    union all by name
    select as_of, troop, about, item, 9 as rank, 0 as big,
        'not explained yet: count once more, and look for an entry not sent' as hint
    from off
    where about = 'count'
    -- The bank
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 1 as rank, r.amount as big,
        'the remittance ' || r.reference || ' of ' || said.day(r.date)
            || ' has left the bank and is not known to have cleared' as hint
    from off o
    join facts.remittance_spans r on r.troop = o.troop and r.state = 'pending' and r.date <= o.on_day
        and r.from_on <= o.as_of and (r.until_on is null or r.until_on > o.as_of)
    where o.about = 'bank' and o.difference = -r.amount
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 2 as rank, r.amount as big,
        'the remittance ' || r.reference || ' of ' || said.day(r.date)
            || ' had not left the bank when the balance was read' as hint
    from off o
    join facts.remittance_spans r on r.troop = o.troop and r.state = 'cleared' and r.from_on > o.on_day
        and r.from_on <= o.as_of and (r.until_on is null or r.until_on > o.as_of)
    where o.about = 'bank' and o.difference = r.amount
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 3 as rank, sum(b.amount) as big,
        'deposits of ' || said.money(sum(b.amount)) || ' were made after the balance was read' as hint
    from off o
    join accepted.banked b on b.troop = o.troop and b.date > o.on_day and b.week_ending <= o.as_of
    where o.about = 'bank'
    group by o.as_of, o.troop, o.about, o.item, o.difference
    having o.difference = -sum(b.amount)
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 4 as rank, s.not_banked as big,
        case when o.difference = s.not_banked then 'all cash' else 'part of the cash' end
            || ' that is not banked may be banked, and the deposit not reported' as hint
    from off o
    join measures.standing s on s.as_of = o.as_of and s.troop = o.troop
    where o.about = 'bank' and o.difference > 0 and o.difference <= s.not_banked
    union all by name
    select
        as_of, troop, about, item, 9 as rank, 0 as big,
        case when difference > 0 then 'the account may hold other money'
            else 'other spending may have gone out, or money is not in the account yet' end as hint
    from off
    where about = 'bank'
    -- The organisation
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 1 as rank, r.amount as big,
        'the remittance ' || r.reference || ' of ' || said.day(r.date) || ' is not yet known to them' as hint
    from off o
    join facts.remittance_spans r on r.troop = o.troop and r.state = 'cleared' and r.from_on <= o.on_day
        and (r.until_on is null or r.until_on > o.on_day)
    where o.about = 'organisation' and o.difference = r.amount
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 1 as rank, r.amount as big,
        'they count the remittance ' || r.reference || ' of ' || said.day(r.date)
            || ', which is not known here to have cleared' as hint
    from off o
    join facts.remittance_spans r on r.troop = o.troop and r.state in ('pending', 'returned') and r.from_on <= o.on_day
        and (r.until_on is null or r.until_on > o.on_day)
    where o.about = 'organisation' and o.difference = -r.amount
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 2 as rank, abs(j.amount) as big,
        'the adjustment ' || j.reference || ' of ' || said.day(j.date) || ' is not yet known to them' as hint
    from off o
    join accepted.adjustments j on j.troop = o.troop and j.date <= o.on_day
    where o.about = 'organisation' and o.difference = j.amount
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 3 as rank, abs(d.worth) as big,
        'the supply record ' || d.document || ' of ' || said.day(d.date) || ' is not yet known to them' as hint
    from off o
    join documents d on d.troop = o.troop and d.date <= o.on_day
    join ledger.proceeds p on p.troop = o.troop and p.as_of = o.as_of
    where o.about = 'organisation' and d.packages <> 0
        and (o.difference = -d.worth or o.difference = -d.worth + round(p.rate * d.packages, 2))
    union all by name
    select
        o.as_of, o.troop, o.about, o.item, 4 as rank, u.worth as big,
        'the troop received packages worth ' || said.money(u.worth) || ' of which no supply record is in yet' as hint
    from off o
    join (
        select as_of, troop, -sum(waiting * price)::decimal(18, 2) as worth
        from measures.unaccounted
        group by all
    ) u on u.as_of = o.as_of and u.troop = o.troop
    where o.about = 'organisation' and u.worth > 0 and o.difference > 0 and o.difference <= u.worth
    union all by name
    select
        as_of, troop, about, item, 9 as rank, 0 as big,
        case when difference > 0 then 'a payment may not be known to them yet, or a supply record is not in yet'
            else 'they may count a payment, or lack a supply record, that is different here' end as hint
    from off
    where about = 'organisation'
),
likeliest as (
    select as_of, troop, about, item, hint
    from hints
    qualify row_number() over (partition by as_of, troop, about, item order by rank, big desc, hint) = 1
)
select
    c.as_of, c.troop, c.about, c.item, c.on_day, c.ours, c.theirs, c.difference, coalesce(l.hint, '') as explanation,
    c.file_no, c.sheet, c.row_no
from compared c
left join likeliest l using (as_of, troop, about, item)
