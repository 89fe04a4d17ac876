-- One row an asked day, troop and deposit that its bank never saw. Sources: measures.bank.
-- Label: A deposit the bank never saw
-- Meaning: More than a week has gone since a deposit, the lines of the troop's bank go on past it, and none of them answers
-- it, alone or together with others. At stake is the deposit.
with open as (
    select *, row_number() over (partition by as_of, troop, date, amount order by place) as nth
    from measures.bank
    where line = '' and state = 'not seen' and answers_kind = 'deposit'
)
select
    as_of, troop, concat_ws(' ', date::varchar, amount::varchar, case when nth > 1 then 'no. ' || nth end) as subject,
    'ask' as severity, 'cash' as about, amount as at_stake, null as packages, null as met,
    'The ' || answers || ', ' || said.money(amount) || ', is in none of the lines of the bank that came in.' as what,
    'Ask for the slip: the day, the amount or the account may be another one.' as next_step,
    'Is there a slip for this deposit, and which account was it paid into?' as ask,
    [said.evidence(file_no, sheet, row_no, 'amount', null, answers, amount, null)] as evidence
from open
