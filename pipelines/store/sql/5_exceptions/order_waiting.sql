-- One row an asked day and online order that still waits for the caregiver's answer within the days it may.
-- Sources: measures.waiting_orders, season.rules, season.thresholds.
-- Label: An online order waits
-- Meaning: An order to be delivered by hand waits for the caregiver's answer; after answer_within_days ([online]) it
-- lapses. Told from day waiting_from_day on; to act now on the last two days.
select
    w.as_of, w.troop, w.order_no as subject,
    case when r.answer_within_days - w.days <= 1 then 'act now' else 'ask' end as severity, 'orders' as about,
    w.goods_amount as at_stake, w.packages, null as met,
    'Order ' || w.order_no || ' of ' || said.day(w.placed_on) || ' ('
        || case w.seller when 'troop' then 'the troop''s own page' else w.seller end || ', '
        || said.packages(w.packages) || ', ' || said.money(w.goods_amount) || ') waits for an answer until '
        || said.day(w.placed_on + r.answer_within_days) || ', ' || left(r.answer_until::varchar, 5) || ': day ' || w.days
        || ' of ' || r.answer_within_days || '.' as what,
    'Ask the leader to remind the caregiver today.' as next_step,
    'Could you remind the caregiver to answer this order?' as ask,
    w.evidence
from measures.waiting_orders w
cross join season.rules r
cross join season.thresholds f
where w.days between f.waiting_from_day and r.answer_within_days
