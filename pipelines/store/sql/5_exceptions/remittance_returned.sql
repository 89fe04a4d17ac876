-- One row an asked day and remittance that came back and that later ones have not made good.
-- Sources: chosen.days, facts.remittance_spans, measures.standing.
-- Label: A remittance returned
-- Meaning: A payment to the organisation came back, and payments dated after it that cleared come to less than it. At
-- stake is its amount.
with returned as (
    select d.as_of, r.*
    from chosen.days d
    join facts.remittance_spans r on r.state = 'returned' and r.from_on <= d.as_of
        and (r.until_on is null or r.until_on > d.as_of)
),
later as (
    select r.as_of, r.reference, sum(n.amount) as cleared
    from returned r
    join facts.remittance_spans n on n.troop = r.troop and n.state = 'cleared' and n.date > r.date
        and n.from_on <= r.as_of and (n.until_on is null or n.until_on > r.as_of)
    group by all
)
select
    r.as_of, r.troop, r.reference as subject, 'act now' as severity, 'organisation' as about, r.amount as at_stake,
    null as packages, s.remitted as met,
    'The remittance of ' || said.money(r.amount) || ' of ' || said.day(r.date) || ' (' || r.reference || ') came back on '
        || said.day(r.from_on) || coalesce(': ' || r.reason, '') || '.' as what,
    'Ask what the bank says, and agree the day on which it is sent again.' as next_step,
    'What does the bank say, and which day can it be sent again?' as ask,
    [said.evidence(r.file_no, r.sheet, r.row_no, 'amount', null, 'returned on ' || said.day(r.from_on), r.amount, null)]
        as evidence
from returned r
join measures.standing s on s.as_of = r.as_of and s.troop = r.troop
left join later n on n.as_of = r.as_of and n.reference = r.reference
where coalesce(n.cleared, 0) < r.amount
