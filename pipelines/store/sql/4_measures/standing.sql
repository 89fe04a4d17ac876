-- One row an asked day and troop: standing.csv. The share's interval is Wilson's score interval at 95 %.
-- Sources: measures.charges, measures.items, measures.families, measures.dues, measures.bank_balances, facts.submitted.
with stock as (
    select
        as_of, troop,
        sum(on_hand_or_expected)::bigint as on_hand,
        sum(coalesce(missing, 0))::bigint as missing,
        sum(on_hand_or_expected * price)::decimal(18, 2) as on_hand_value,
        sum(damaged * price)::decimal(18, 2) as damaged_value,
        sum(coalesce(missing, 0) * price)::decimal(18, 2) as missing_value,
        sum(sold_from_stock) filter (is_stocked) as stocked_sold,
        sum(available) filter (is_stocked) as stocked_available
    from measures.items
    group by all
),
families as (
    select
        as_of, troop,
        sum(owes)::decimal(18, 2) as families_owe,
        sum(greatest(0, least(paid, charged)))::decimal(18, 2) as paid_of_charge
    from measures.families
    group by all
),
dues as (
    select
        as_of, troop,
        coalesce(sum(unpaid) filter (is_being_collected), 0)::decimal(18, 2) as being_collected,
        coalesce(sum(unpaid) filter (not is_being_collected), 0)::decimal(18, 2) as past_due,
        coalesce(sum(unpaid) filter (not is_being_collected and days_old <= 7), 0)::decimal(18, 2) as past_due_0_7,
        coalesce(sum(unpaid) filter (not is_being_collected and days_old between 8 and 14), 0)::decimal(18, 2) as past_due_8_14,
        coalesce(sum(unpaid) filter (not is_being_collected and days_old between 15 and 30), 0)::decimal(18, 2) as past_due_15_30,
        coalesce(sum(unpaid) filter (not is_being_collected and days_old > 30), 0)::decimal(18, 2) as past_due_over_30,
        min(due_on) filter (not is_reached) as next_due_on
    from measures.dues
    group by all
),
next as (
    select as_of, troop, amount, share
    from measures.dues
    where not is_reached
    qualify row_number() over (partition by as_of, troop order by due_on) = 1
),
joined as (
    select
        c.*, k.* exclude (as_of, troop), r.week_no,
        coalesce(f.families_owe, 0)::decimal(18, 2) as families_owe,
        coalesce(f.paid_of_charge, 0)::decimal(18, 2) as paid_of_charge,
        (c.stall_sold_value - c.stall_takings)::decimal(18, 2) as stall_short,
        (c.cash - c.banked)::decimal(18, 2) as not_banked,
        (c.banked + c.card - c.remitted)::decimal(18, 2) as in_bank,
        coalesce(d.being_collected, 0)::decimal(18, 2) as being_collected,
        coalesce(d.past_due, 0)::decimal(18, 2) as past_due,
        coalesce(d.past_due_0_7, 0)::decimal(18, 2) as past_due_0_7,
        coalesce(d.past_due_8_14, 0)::decimal(18, 2) as past_due_8_14,
        coalesce(d.past_due_15_30, 0)::decimal(18, 2) as past_due_15_30,
        coalesce(d.past_due_over_30, 0)::decimal(18, 2) as past_due_over_30,
        d.next_due_on,
        n.amount is null as next_due_is_estimate,
        case when d.next_due_on is null then null
            else coalesce(n.amount, greatest(0, round(
                n.share * (c.charged - c.proceeds) - c.credits - coalesce(d.being_collected, 0), 2)))
        end::decimal(18, 2) as next_due,
        b.bank_balance, b.balance_on,
        s.troop is not null as submitted
    from measures.charges c
    join chosen.days r on r.as_of = c.as_of
    join stock k on k.as_of = c.as_of and k.troop = c.troop
    left join families f on f.as_of = c.as_of and f.troop = c.troop
    left join dues d on d.as_of = c.as_of and d.troop = c.troop
    left join next n on n.as_of = c.as_of and n.troop = c.troop
    left join measures.bank_balances b on b.as_of = c.as_of and b.troop = c.troop
    left join facts.submitted s on s.troop = c.troop and s.week_ending = c.as_of
    where c.is_asked
),
wilson as (
    select *, registered_taking_part::double as x, registered::double as n, 1.959963984540054::double as z
    from joined
)
select
    as_of, troop, week_no, submitted, available, sold_from_stock, remote, packages_sold,
    case when stocked_available > 0 then stocked_sold / stocked_available end as sell_through,
    case when available_value > 0 then (paid_of_charge + stall_takings)::double / available_value::double end as paid_through,
    on_hand, missing, available_value, remote_value, on_hand_value, damaged_value, missing_value, families_owe, stall_short,
    not_banked, in_bank, remitted, paid_online, settled as settled_otherwise, charged, proceeds_rate, proceeds, adjustments,
    credits, owed, being_collected, past_due, past_due_0_7, past_due_8_14, past_due_15_30, past_due_over_30, next_due_on,
    next_due,
    coalesce(bank_balance, in_bank)::decimal(18, 2) as bank,
    (coalesce(bank_balance, in_bank) - being_collected - coalesce(next_due, 0))::decimal(18, 2) as cover,
    registered, taking_part,
    case when registered > 0 then x / n end as share,
    case when registered > 0 then greatest(0, (x + z * z / 2 - z * sqrt(x * (n - x) / n + z * z / 4)) / (n + z * z)) end as share_low,
    case when registered > 0 then least(1, (x + z * z / 2 + z * sqrt(x * (n - x) / n + z * z / 4)) / (n + z * z)) end as share_high,
    case when registered > 0 then packages_sold / registered end as average_per_registered,
    case when taking_part > 0 then packages_sold / taking_part end as average_per_active,
    registered_taking_part, divisor, tier_no, next_due_is_estimate, bank_balance, balance_on, cash, card, banked,
    stall_sold_value, stall_takings, paid_of_charge, stocked_sold, stocked_available, by_hand_value
from wilson
