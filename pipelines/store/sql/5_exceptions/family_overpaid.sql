-- One row an asked day, troop and participant whose family handed in more than its packages cost. Paid ahead by online
-- orders is not overpaid. Sources: measures.families, measures.households, measures.changed_troops,
-- measures.family_lines, season.thresholds.
-- Label: A family overpaid
-- Meaning: Cash, card money and settlements of a family exceed what it was charged by overpaid_from or more. At stake
-- is the excess: something to give back, to bring packages for, or to correct. A household that is even gets no call.
-- What somebody who changed troops still owes more than that in the one before is called for there.
with changed as (
    select as_of, now_troop, participant, sum(owes) as owes_before
    from measures.changed_troops
    group by all
),
siblings as (
    select
        a.as_of, a.troop, a.participant,
        string_agg(b.participant || ' owes ' || said.money(b.owes), ', ' order by b.participant) as owing
    from measures.households a
    join measures.households b on b.as_of = a.as_of and b.troop = a.troop and b.household = a.household
        and b.participant <> a.participant
    where b.owes > 0
    group by all
),
over as (
    select k.*, c.owes_before
    from measures.families k
    anti join measures.households h on h.as_of = k.as_of and h.troop = k.troop and h.participant = k.participant and h.is_even
    left join changed c on c.as_of = k.as_of and c.now_troop = k.troop and c.participant = k.participant
    cross join season.thresholds f
    where k.overpaid >= f.overpaid_from and coalesce(c.owes_before + k.owes <= 0, true)
),
evidence as (
    select
        o.as_of, o.troop, o.participant,
        list(said.evidence(l.file_no, l.sheet, l.row_no, l.column_name, l.item,
            l.kind || ' of ' || said.week(l.on_day), -l.amount, null)
            order by l.on_day, l.file_no, l.row_no, l.kind, l.item) as evidence
    from over o
    join measures.family_lines l on l.troop = o.troop and l.participant = o.participant and l.on_day <= o.as_of
        and l.kind <> 'online'
    group by all
)
select
    o.as_of, o.troop, o.participant as subject, 'ask' as severity, 'families' as about, o.overpaid as at_stake,
    null as packages, null as met,
    case o.participant when 'troop' then 'The troop''s own page' else 'The family of ' || o.participant end
        || ' handed in ' || said.money(o.paid_cash + o.paid_card + o.settled) || ' for packages of '
        || said.money(o.charged) || ': ' || said.money(o.overpaid) || ' too much.'
        || case when o.owes_before > 0 then ' It owes ' || said.money(o.owes_before) || ' in the troop it was in before.'
            else '' end
        || coalesce(' Of the same household ' || s.owing || '.', '') as what,
    case when s.owing is not null then 'Ask whether this was paid for the other child.'
        else 'Ask whether packages were not written down or money is to be given back.' end as next_step,
    case when s.owing is not null then 'Was this paid for the other child of the household?'
        else 'Are packages missing on the sheet, or is money to be given back?' end as ask,
    e.evidence
from over o
join evidence e using (as_of, troop, participant)
left join siblings s using (as_of, troop, participant)
