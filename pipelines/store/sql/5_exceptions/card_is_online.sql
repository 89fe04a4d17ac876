-- One row an asked day, troop and participant whose card money is what buyers paid the organisation online.
-- Sources: chosen.days, accepted.families, facts.entries.
-- Asked: before it is sent.
-- Label: Online money reported as card money
-- Meaning: Card money of a family is, to the cent, what its own online orders come to, those it delivers or all of them.
-- Buyers paid that to the organisation: it never reaches the troop's own bank. At stake is the card money.
with online as (
    select
        d.as_of, e.troop, e.participant,
        sum(case e.kind when 'hand_order' then e.amount when 'hand_order_undone' then -e.amount else 0 end) as by_hand,
        sum(case when e.kind in ('hand_order', 'remote_order') then e.amount else -e.amount end) as in_all
    from chosen.days d
    join facts.entries e on e.on_day <= d.as_of and e.table_name = 'online_orders'
    where e.participant <> 'troop'
    group by all
),
found as (
    select o.*, f.week_ending, f.card, f.file_no, f.sheet, f.row_no
    from online o
    join accepted.families f on f.troop = o.troop and f.participant = o.participant and f.week_ending <= o.as_of
    where f.card > 0 and f.card in (o.by_hand, o.in_all)
)
select
    as_of, troop, participant || ' ' || week_ending as subject, 'ask' as severity, 'families' as about, card as at_stake,
    null as packages, null as met,
    'In ' || said.week(week_ending) || ' ' || said.money(card) || ' stands as card money of ' || participant
        || ': just what its online orders come to, which the organisation has already.' as what,
    'Ask whether this reached the troop''s own bank; if not, take it out of the card column.' as next_step,
    'Is this the money of the online orders? The card column is for what reaches your own bank.' as ask,
    [said.evidence(file_no, sheet, row_no, 'card', null, 'card money of ' || participant, card, null)] as evidence
from found
