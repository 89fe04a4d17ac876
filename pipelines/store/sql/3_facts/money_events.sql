-- One row a troop and day: money that came in, went to the bank, to the organisation, or was agreed.
-- Sources: facts.family_weeks, facts.stalls, accepted.banked, facts.remittance_spans, accepted.adjustments.
with events as (
    select troop, week_ending as on_day, cash, card, 0 as banked, 0 as remitted, 0 as adjustments, 0 as settled,
        0 as stall_sold_value, 0 as stall_takings
    from facts.family_weeks
    union all
    select troop, week_ending, cash, card, 0, 0, 0, 0, sold_value, cash + card
    from facts.stalls
    union all
    select troop, week_ending, 0, 0, amount, 0, 0, 0, 0, 0
    from accepted.banked
    where amount is not null
    union all
    select troop, from_on, 0, 0, 0, amount, 0, 0, 0, 0
    from facts.remittance_spans
    where state = 'cleared'
    union all
    select troop, until_on, 0, 0, 0, -amount, 0, 0, 0, 0
    from facts.remittance_spans
    where state = 'cleared' and until_on is not null
    union all
    select troop, date, 0, 0, 0, 0, amount, case when participant is null then 0 else amount end, 0, 0
    from accepted.adjustments
)
select
    troop, on_day,
    sum(cash)::decimal(18, 2) as cash, sum(card)::decimal(18, 2) as card, sum(banked)::decimal(18, 2) as banked,
    sum(remitted)::decimal(18, 2) as remitted, sum(adjustments)::decimal(18, 2) as adjustments,
    sum(settled)::decimal(18, 2) as settled, sum(stall_sold_value)::decimal(18, 2) as stall_sold_value,
    sum(stall_takings)::decimal(18, 2) as stall_takings
from events
group by all
