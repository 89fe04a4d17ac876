-- One row an asked day, troop and amount that may have been taken twice: two lines of the bank, or two payments, of one
-- amount within 10 days. Sources: measures.bank, facts.remittance_spans, measures.dues, measures.standing, chosen.days.
-- Label: A collection taken twice
-- Meaning: The same amount left the bank, or was paid to the organisation, twice within 10 days, or twice after it had come
-- back, and with it more is credited than all that is due by then. At stake is the second one.
with due as (
    select s.as_of, s.troop, s.credits, coalesce(max(d.due_in_all), 0) as due_in_all
    from measures.standing s
    left join measures.dues d on d.as_of = s.as_of and d.troop = s.troop and d.is_reached
    group by all
),
lines as (
    select
        n.as_of, n.troop, n.line as name, n.date, -n.amount as amount, d.credits - n.amount as credited, d.due_in_all,
        m.date as first_on, n.file_no, n.sheet, n.row_no, 'the bank''s line ' || n.line as says
    from measures.bank n
    join measures.bank m on m.as_of = n.as_of and m.troop = n.troop and m.amount = n.amount and m.line <> n.line
        and m.state = 'matched' and m.answers_kind in ('payment', 'collection') and abs(n.date - m.date) <= 10
    join due d on d.as_of = n.as_of and d.troop = n.troop
    where n.amount < 0 and n.line <> '' and n.state in ('open', 'not reported') and n.kind in ('', 'collection', 'remittance')
),
payments as (
    select k.as_of, r.*
    from chosen.days k
    join facts.remittance_spans r on r.state = 'cleared' and r.from_on <= k.as_of
        and (r.until_on is null or r.until_on > k.as_of)
),
paid as (
    select
        p.as_of, p.troop, p.reference as name, p.date, p.amount, d.credits as credited, d.due_in_all, q.date as first_on,
        p.file_no, p.sheet, p.row_no, 'the payment ' || p.reference as says
    from payments p
    join payments q on q.as_of = p.as_of and q.troop = p.troop and q.amount = p.amount and q.reference <> p.reference
        and (q.date, q.reference) < (p.date, p.reference) and p.date - q.date <= 10
    join due d on d.as_of = p.as_of and d.troop = p.troop
),
-- After a return: the payment itself where it went through in the end, and others of its amount sent since.
sent as (
    select
        k.as_of, r.reference as returned, n.reference, n.troop, n.amount, n.state, n.file_no, n.sheet, n.row_no,
        case when n.reference = r.reference then n.from_on else n.date end as sent_on
    from chosen.days k
    join facts.remittance_spans r on r.state = 'returned' and r.from_on <= k.as_of
    join facts.remittance_spans n on n.troop = r.troop and n.amount = r.amount and n.state in ('cleared', 'pending')
        and n.from_on <= k.as_of and (n.until_on is null or n.until_on > k.as_of)
        and case when n.reference = r.reference then n.from_on > r.from_on else n.date >= r.from_on end
),
again as (
    select
        s.*, lag(s.sent_on) over so_far as first_on,
        sum(case when s.state = 'pending' then s.amount end) over so_far as on_its_way
    from sent s
    window so_far as (partition by s.as_of, s.troop, s.returned order by s.sent_on, s.reference)
),
resent as (
    select
        a.as_of, a.troop, a.reference as name, a.sent_on as date, a.amount,
        d.credits + coalesce(a.on_its_way, 0) as credited, d.due_in_all, a.first_on, a.file_no, a.sheet, a.row_no,
        'the payment ' || a.reference || ', after ' || a.returned || ' had come back' as says
    from again a
    join due d on d.as_of = a.as_of and d.troop = a.troop
    where a.first_on is not null
),
found as (
    from lines
    union all by name
    from paid
    union all by name
    from resent
)
select
    as_of, troop, name as subject, 'ask' as severity, 'organisation' as about, amount as at_stake, null as packages,
    null as met,
    said.money(amount) || ' was taken on ' || said.day(first_on) || ' and again on ' || said.day(date) || '; that is '
        || said.money(credited - due_in_all) || ' more than all that is due.' as what,
    'Ask the organisation whether it took this twice, and how it comes back.' as next_step,
    'Did you agree to pay this amount twice?' as ask,
    [said.evidence(file_no, sheet, row_no, 'amount', null, says, amount, null)] as evidence
from found
where credited > due_in_all
qualify row_number() over (
    partition by as_of, troop, name order by abs(date - first_on), length(says) desc, first_on, credited desc, file_no, row_no
) = 1
