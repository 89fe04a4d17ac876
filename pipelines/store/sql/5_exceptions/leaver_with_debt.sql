-- One row an asked day, troop and participant who has left by then and whose family owes. Who changed troops is one call.
-- Sources: measures.changed_troops, measures.households, exceptions.family_behind, measures.families, measures.family_lines, accepted.roster, season.thresholds.
-- Label: A leaver with a debt
-- Meaning: A participant has left the troop and the family owes leaver_from or more. At stake is what it owes. Not where it
-- is in another troop now and paid there, or is called for what it owes there. A household that is even gets no call.
with called as (
    select c.as_of, c.troop, c.participant
    from measures.changed_troops c
    join exceptions.family_behind b on b.as_of = c.as_of and b.troop = c.now_troop and b.subject = c.participant
),
owing as (
    select k.*, r.left_on, r.file_no, r.sheet, r.row_no
    from measures.families k
    join accepted.roster r on r.troop = k.troop and r.participant = k.participant and r.left_on <= k.as_of
    cross join season.thresholds f
    anti join measures.households h on h.as_of = k.as_of and h.troop = k.troop and h.participant = k.participant and h.is_even
    anti join measures.changed_troops c on c.as_of = k.as_of and c.troop = k.troop and c.participant = k.participant
        and c.owes_together <= 0
    anti join called b on b.as_of = k.as_of and b.troop = k.troop and b.participant = k.participant
    where k.owes >= f.leaver_from
),
evidence as (
    select
        o.as_of, o.troop, o.participant,
        list(said.evidence(l.file_no, l.sheet, l.row_no, l.column_name, l.item,
            l.kind || ' of ' || said.week(l.on_day), l.amount, null)
            order by l.on_day, l.file_no, l.row_no, l.kind, l.item) as evidence
    from owing o
    join measures.family_lines l on l.troop = o.troop and l.participant = o.participant and l.on_day <= o.as_of
    group by all
)
select
    o.as_of, o.troop, o.participant as subject, 'act now' as severity, 'families' as about, o.owes as at_stake,
    null as packages, o.paid as met,
    o.participant || ' left on ' || said.day(o.left_on) || '; the family owes ' || said.money(o.owes) || ' of '
        || said.money(o.charged) || ' charged.' as what,
    'Ask the leader to settle with the family while it is in reach.' as next_step,
    'Can the packages come back, or when can the family pay?' as ask,
    e.evidence || [said.evidence(o.file_no, o.sheet, o.row_no, 'left_on', null, 'left on ' || said.day(o.left_on), null, null)]
        as evidence
from owing o
join evidence e using (as_of, troop, participant)
