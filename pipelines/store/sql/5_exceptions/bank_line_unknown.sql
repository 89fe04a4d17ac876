-- One row an asked day, troop and line of its bank that nobody reported. Sources: measures.bank.
-- Label: A line of the bank that nobody reported
-- Meaning: More than a week after it was booked, a line of the troop's bank answers nothing in the book: no deposit, no
-- payment or collection, no fee, no cheque that came back. At stake is its amount, whichever way it went.
select
    as_of, troop, line as subject, case when amount > 0 then 'watch' else 'ask' end as severity, 'cash' as about,
    abs(amount) as at_stake, null as packages, null as met,
    'On ' || said.day(date) || ' the bank booked ' || said.money(abs(amount))
        || case when amount > 0 then ' into' else ' out of' end || ' the account' || case when words <> '' then ' (' || words || ')'
            else '' end || '; nothing in the book says what it was.' as what,
    case when amount > 0 then 'Ask whether a deposit was not reported, or the money is not the sale''s.'
        else 'Ask what was paid: a fee and a cheque that came back are rows of the bank too.' end as next_step,
    case when amount > 0 then 'What came in on that day, and is it the sale''s?' else 'What was paid on that day?' end as ask,
    [said.evidence(file_no, sheet, row_no, 'amount', null, 'the bank''s line ' || line, abs(amount), null)] as evidence
from measures.bank
where line <> '' and state = 'not reported'
