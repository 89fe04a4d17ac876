-- One row an asked day and troop whose figure in the organisation's own books is not ours of the same day.
-- Sources: measures.books, facts.remittance_spans, accepted.supply, season.items, season.thresholds.
-- Label: The organisation's books differ from ours
-- Meaning: What the organisation says the troop owes on a day differs from what we work out for that day by books_from
-- or more. At stake is the difference. Where it is just what a recent payment or receipt comes to, that is named.
with off as (
    select k.*, abs(k.difference) as at_stake, sign(k.difference) as side
    from measures.books k
    cross join season.thresholds f
    where abs(k.difference) >= f.books_from
),
documents as (
    select p.troop, p.document, p.date, sum(case p.kind when 'returned' then -1 else 1 end * p.packages * i.price) as worth
    from accepted.supply p
    join season.items i on i.code = p.item
    where p.kind <> 'exchange'
    group by all
),
hints as (
    select o.as_of, o.troop, 'the payment ' || r.reference || ' of ' || said.day(r.date) as hint, r.date
    from off o
    join facts.remittance_spans r on r.troop = o.troop and r.amount = o.at_stake and r.state = 'cleared'
        and r.from_on <= o.given_on
    union all by name
    select o.as_of, o.troop, 'the receipt ' || d.document || ' of ' || said.day(d.date) as hint, d.date
    from off o
    join documents d on d.troop = o.troop and abs(d.worth) = o.at_stake and d.date <= o.given_on
),
hint as (
    select as_of, troop, arg_max(hint, date) as hint
    from hints
    group by all
)
select
    o.as_of, o.troop, '' as subject, 'ask' as severity, 'organisation' as about, o.at_stake, null as packages,
    null as met,
    'For ' || said.day(o.given_on) || ' the organisation says ' || said.money(o.theirs) || ' is owed, we work out '
        || said.money(o.ours) || ': a difference of ' || said.money(o.at_stake)
        || coalesce(', just what ' || h.hint || ' comes to', '') || '.' as what,
    'Compare receipts, payments and adjustments with the organisation''s list.' as next_step,
    'Could you send the latest receipts and payments that you have on paper?' as ask,
    [said.evidence(o.file_no, o.sheet, o.row_no, 'owed', null, 'the organisation''s figure', o.side * o.theirs, null),
        said.worked_out('our figure of that day', -o.side * o.ours, null)] as evidence
from off o
left join hint h using (as_of, troop)
