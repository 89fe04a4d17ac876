-- One row an asked day, troop and deposit that its bank never saw, where another troop's bank saw just that amount and
-- nobody of that troop reported it. All troops together. Sources: measures.bank.
-- Label: A deposit in another troop's account
-- Meaning: A deposit that a troop's bank never saw, and a line of the same amount on a day that fits which nobody reported
-- for another troop. The other troop is named here alone, and to neither leader. At stake is the deposit.
with matches as (
    select
        d.*, o.troop as other, o.line as other_line, o.date as other_on, o.file_no as other_file, o.sheet as other_sheet,
        o.row_no as other_row
    from measures.bank d
    join measures.bank o on o.as_of = d.as_of and o.troop <> d.troop and o.amount = d.amount and o.line <> ''
        and o.state in ('open', 'not reported') and o.date between d.date - 1 and d.date + 5
    where d.line = '' and d.state = 'not seen' and d.answers_kind = 'deposit'
    qualify row_number() over (partition by d.as_of, d.troop, d.place order by abs(o.date - d.date), o.troop, o.line) = 1
)
select
    as_of, troop, concat_ws(' ', date::varchar, amount::varchar, place::varchar) as subject, 'ask' as severity,
    'cash' as about, amount as at_stake, null as packages, null as met,
    'The ' || answers || ', ' || said.money(amount) || ', never came into this troop''s account; on ' || said.day(other_on)
        || ' the same amount came into troop ' || other || '''s, which reported none.' as what,
    'Ask both for the slip, naming neither to the other; the account on it says whose it is.' as next_step,
    'Which account stands on the slip of this deposit?' as ask,
    [
        said.evidence(file_no, sheet, row_no, 'amount', null, answers, amount, null),
        said.evidence(other_file, other_sheet, other_row, 'amount', null, 'line ' || other_line || ' of troop ' || other, null, null)
    ] as evidence
from matches
