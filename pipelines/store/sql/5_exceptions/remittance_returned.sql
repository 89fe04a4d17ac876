-- One row an asked day and remittance that came back and that later ones have not made good; only to watch where it was
-- sent again and is on its way.
-- Sources: chosen.days, facts.remittance_spans, measures.standing.
-- Label: A payment that came back
-- Meaning: A payment to the organisation came back, and payments dated after it that cleared come to less than it. At
-- stake is its amount. Where it was sent again and has not cleared yet there is nothing to do but to wait.
with returned as (
    select d.as_of, r.*
    from chosen.days d
    join facts.remittance_spans r on r.state = 'returned' and r.from_on <= d.as_of
        and (r.until_on is null or r.until_on > d.as_of)
),
later as (
    select
        r.as_of, r.reference, sum(n.amount) filter (n.state = 'cleared') as cleared, sum(n.amount) as sent,
        max(n.date) as sent_on
    from returned r
    join facts.remittance_spans n on n.troop = r.troop and n.state in ('cleared', 'pending') and n.date > r.date
        and n.from_on <= r.as_of and (n.until_on is null or n.until_on > r.as_of)
    group by all
)
select
    r.as_of, r.troop, r.reference as subject, case when n.sent >= r.amount then 'watch' else 'act now' end as severity, 'organisation' as about, r.amount as at_stake,
    null as packages, s.remitted as met,
    'The payment of ' || said.money(r.amount) || ' of ' || said.day(r.date) || ' (' || r.reference || ') came back on '
        || said.day(r.from_on) || coalesce(': ' || r.reason, '') || '.'
        || case when n.sent >= r.amount then ' It was sent again on ' || said.day(n.sent_on) || ' and has not cleared yet.'
            else '' end as what,
    case when n.sent >= r.amount then 'Nothing to do until it clears; it need not be sent a third time.'
        else 'Ask what the bank says, and agree the day on which it is sent again.' end as next_step,
    'What does the bank say, and which day can it be sent again?' as ask,
    [said.evidence(r.file_no, r.sheet, r.row_no, 'amount', null, 'returned on ' || said.day(r.from_on), r.amount, null)]
        as evidence
from returned r
join measures.standing s on s.as_of = r.as_of and s.troop = r.troop
left join later n on n.as_of = r.as_of and n.reference = r.reference
where coalesce(n.cleared, 0) < r.amount
