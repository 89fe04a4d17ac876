-- One row an asked day, troop and participant who takes part and was not on the roster by then.
-- Sources: measures.participant_points, chosen.days, accepted.roster, measures.families, accepted.families,
-- facts.order_spans, facts.stall_work, season.items.
-- Label: A seller not on the roster
-- Meaning: Somebody took packages, had an online order or worked a stall and is not registered with the troop. At stake
-- is the value of the packages taken and of the orders.
with unknown as (
    select p.as_of, p.troop, p.participant
    from measures.participant_points p
    join chosen.days d on d.as_of = p.as_of
    anti join accepted.roster r on r.troop = p.troop and r.participant = p.participant
        and coalesce(r.registered_on <= p.as_of, true)
    where p.is_taking_part
),
pieces as (
    select u.*, f.file_no, f.sheet, f.row_no, 'packages' as column_name, f.item,
        'took ' || said.packages(f.packages) || ' of ' || i.title as says, f.packages * i.price as amount, f.packages
    from unknown u
    join accepted.families f on f.troop = u.troop and f.participant = u.participant and f.week_ending <= u.as_of
        and f.packages <> 0
    join season.items i on i.code = f.item
    union all by name
    select u.*, s.file_no, s.sheet, s.row_no, 'goods_amount' as column_name, null as item,
        'online order ' || s."order" as says, s.goods_amount as amount, s.packages
    from unknown u
    join facts.order_spans s on s.troop = u.troop and s.seller = u.participant and (s.is_remote or s.is_paid_by_hand)
        and s.from_on <= u.as_of and (s.until_on is null or s.until_on > u.as_of)
    union all by name
    select distinct u.*, s.file_no, s.sheet, s.row_no, 'participants' as column_name, null as item,
        'worked a stall on ' || said.day(s.date) as says,
        null::decimal(18, 2) as amount, null::integer as packages
    from unknown u
    join facts.stall_work s on s.troop = u.troop and s.participant = u.participant and s.week_ending <= u.as_of
),
gathered as (
    select
        as_of, troop, participant, sum(amount) as at_stake, sum(packages) as packages,
        list(said.evidence(file_no, sheet, row_no, column_name, item, says, amount, packages)
            order by file_no, sheet, row_no, item) as evidence
    from pieces
    group by all
)
select
    g.as_of, g.troop, g.participant as subject, 'ask' as severity, 'people' as about, g.at_stake, g.packages, null as met,
    g.participant || ' is not on the roster'
        || case when g.packages > 0 then ' and has ' || said.packages(g.packages) || ' (' || said.money(g.at_stake) || ').'
            else ' and took part in the sale.' end as what,
    'Ask whether the code is mistyped or the registration is still to come.' as next_step,
    'Is this code right, and is the participant registered?' as ask,
    g.evidence
from gathered g
