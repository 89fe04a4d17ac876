-- One row an asked day, troop and participant (`troop`, the own page, included) with a row in Families, a counted order
-- or an adjustment: families.csv.
-- Sources: measures.points, facts.family_weeks, facts.online_events, accepted.adjustments.
with asked as (
    select as_of, troop from measures.points where is_asked
),
weeks as (
    select
        a.as_of, a.troop, f.participant, f.week_ending, f.charged,
        f.taken, f.brought_back, f.cash, f.card
    from asked a
    join facts.family_weeks f on f.troop = a.troop and f.week_ending <= a.as_of
),
stock as (
    select
        as_of, troop, participant,
        sum(taken) as taken, sum(brought_back) as brought_back, sum(charged) as charged, sum(cash) as cash,
        sum(card) as card, -sum(least(charged, 0)) as brought_back_value
    from weeks
    group by all
),
online as (
    select
        a.as_of, a.troop, o.participant,
        sum(o.orders) as orders, sum(o.remote) as remote, sum(o.by_hand) as by_hand, sum(o.by_hand_value) as paid_online
    from asked a
    join facts.online_events o on o.troop = a.troop and o.on_day <= a.as_of
    group by all
    having sum(o.orders) > 0
),
settled as (
    select a.as_of, a.troop, j.participant, sum(j.amount) as settled
    from asked a
    join accepted.adjustments j on j.troop = a.troop and j.date <= a.as_of
    where j.participant is not null
    group by all
),
people as (
    select as_of, troop, participant from stock
    union
    select as_of, troop, participant from online
    union
    select as_of, troop, participant from settled
),
joined as (
    select
        p.*,
        coalesce(s.taken, 0)::bigint as taken,
        coalesce(s.brought_back, 0)::bigint as brought_back,
        coalesce(s.charged, 0)::decimal(18, 2) as charged,
        coalesce(s.cash, 0)::decimal(18, 2) as paid_cash,
        coalesce(s.card, 0)::decimal(18, 2) as paid_card,
        coalesce(o.paid_online, 0)::decimal(18, 2) as paid_online,
        coalesce(j.settled, 0)::decimal(18, 2) as settled,
        coalesce(s.brought_back_value, 0)::decimal(18, 2) as brought_back_value,
        coalesce(o.remote, 0)::bigint as remote,
        coalesce(o.by_hand, 0)::bigint as by_hand
    from people p
    left join stock s using (as_of, troop, participant)
    left join online o using (as_of, troop, participant)
    left join settled j using (as_of, troop, participant)
),
paid as (
    select *, (paid_cash + paid_card + paid_online + settled)::decimal(18, 2) as paid
    from joined
),
-- Charges of a week take all that was paid and brought back, oldest first; where that is below 0 it is owed now.
charges as (
    select
        w.as_of, w.troop, w.participant, (w.as_of - w.week_ending) as days_old, w.charged,
        sum(w.charged) over (partition by w.as_of, w.troop, w.participant order by w.week_ending) as charged_so_far,
        greatest(p.paid + p.brought_back_value, 0) as taken_off
    from weeks w
    join paid p on p.as_of = w.as_of and p.troop = w.troop and p.participant = w.participant
    where w.charged > 0
),
unpaid as (
    select *, least(charged, greatest(charged_so_far - taken_off, 0)) as unpaid
    from charges
),
aged as (
    select
        as_of, troop, participant,
        sum(unpaid) filter (days_old <= 7) as age_0_7,
        sum(unpaid) filter (days_old between 8 and 14) as age_8_14,
        sum(unpaid) filter (days_old between 15 and 30) as age_15_30,
        sum(unpaid) filter (days_old > 30) as age_over_30
    from unpaid
    group by all
),
owing as (
    select
        p.*,
        (p.charged - p.paid)::decimal(18, 2) as owes,
        (coalesce(a.age_0_7, 0) + greatest(-(p.paid + p.brought_back_value), 0))::decimal(18, 2) as owes_0_7,
        coalesce(a.age_8_14, 0)::decimal(18, 2) as owes_8_14,
        coalesce(a.age_15_30, 0)::decimal(18, 2) as owes_15_30,
        coalesce(a.age_over_30, 0)::decimal(18, 2) as owes_over_30,
        greatest(0, p.paid_cash + p.paid_card + p.settled - p.charged)::decimal(18, 2) as overpaid
    from paid p
    left join aged a using (as_of, troop, participant)
)
select
    as_of, troop, participant, taken, brought_back, charged, paid_cash, paid_card, paid_online, settled, paid, owes,
    owes_0_7, owes_8_14, owes_15_30, owes_over_30, overpaid,
    greatest(greatest(0, -owes) - overpaid, 0)::decimal(18, 2) as paid_ahead,
    remote, by_hand,
    taken - brought_back + remote as packages
from owing
