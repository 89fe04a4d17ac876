-- One row an asked day and online order that waited too long for the caregiver's answer.
-- Sources: measures.waiting_orders, season.rules, season.thresholds.
-- Label: An online order lapsed
-- Meaning: An order to be delivered by hand was not answered within answer_within_days ([online]). Told for
-- lapsed_days days more, or until the organisation's table says what became of it.
select
    w.as_of, w.troop, w.order_no as subject, 'ask' as severity, 'orders' as about, w.goods_amount as at_stake,
    w.packages, null as met,
    'Order ' || w.order_no || ' of ' || said.day(w.placed_on) || ' ('
        || case w.seller when 'troop' then 'the troop''s own page' else w.seller end || ', '
        || said.packages(w.packages) || ', ' || said.money(w.goods_amount) || ') was not answered within '
        || said.count(r.answer_within_days, 'day', 'days') || '; it is ' || w.days || ' days old.' as what,
    'Ask whether the buyer may be asked again, and how the family wants to be reminded.' as next_step,
    'Can the family reach the buyer, and shall we remind them another way?' as ask,
    w.evidence
from measures.waiting_orders w
cross join season.rules r
cross join season.thresholds f
where w.days > r.answer_within_days and w.days <= r.answer_within_days + f.lapsed_days
