-- One row an asked day and troop: standing.csv. Sources: measures.charges, measures.items, measures.families,
-- measures.dues, measures.bank_balances, measures.posted_orders, facts.submitted, chosen.days.
with stock as (
    select
        as_of, troop,
        sum(on_hand_or_expected)::bigint as on_hand,
        sum(coalesce(missing, 0))::bigint as missing,
        sum(on_hand_or_expected * price)::decimal(18, 2) as on_hand_value,
        sum(coalesce(missing, 0) * price)::decimal(18, 2) as missing_value
    from measures.items
    group by all
),
families as (
    select as_of, troop, sum(greatest(0, least(paid, charged)))::decimal(18, 2) as paid_of_charge
    from measures.families
    group by all
),
dues as (
    select
        as_of, troop,
        sum(unpaid) filter (is_being_collected) as being_collected,
        sum(unpaid) filter (not is_being_collected and days_old <= 7) as past_due_0_7,
        sum(unpaid) filter (not is_being_collected and days_old between 8 and 14) as past_due_8_14,
        sum(unpaid) filter (not is_being_collected and days_old between 15 and 30) as past_due_15_30,
        sum(unpaid) filter (not is_being_collected and days_old > 30) as past_due_over_30,
        sum(unpaid) filter (not is_being_collected) as past_due,
        min(due_on) filter (not is_reached) as next_due_on,
        arg_min(struct_pack(amount, share, arrears), due_on) filter (not is_reached) as next
    from measures.dues
    group by all
),
posted as (
    select as_of, troop, count(*)::bigint as posted_orders, sum(packages)::bigint as posted_packages
    from measures.posted_orders
    group by all
)
select
    c.* exclude (is_asked), r.week_no, s.troop is not null as submitted,
    k.on_hand, k.missing, k.on_hand_value, k.missing_value,
    coalesce(f.paid_of_charge, 0)::decimal(18, 2) as paid_of_charge,
    coalesce(d.being_collected, 0)::decimal(18, 2) as being_collected,
    coalesce(d.past_due_0_7, 0)::decimal(18, 2) as past_due_0_7,
    coalesce(d.past_due_8_14, 0)::decimal(18, 2) as past_due_8_14,
    coalesce(d.past_due_15_30, 0)::decimal(18, 2) as past_due_15_30,
    coalesce(d.past_due_over_30, 0)::decimal(18, 2) as past_due_over_30,
    d.next_due_on,
    d.next.amount is null as next_due_is_estimate,
    coalesce(d.next.arrears, '') as next_due_arrears,
    case when d.next_due_on is not null
        then coalesce(d.next.amount, greatest(0, round(
            d.next.share * (c.charged - c.proceeds) - c.credits - coalesce(d.being_collected, 0), 2)))
    end::decimal(18, 2) as next_due,
    b.bank_balance, b.balance_on,
    coalesce(b.bank_balance, c.in_bank)::decimal(18, 2) as bank,
    case when d.next.amount is not null and d.next.arrears = '' and d.past_due > 0
        then coalesce(b.bank_balance, c.in_bank) - coalesce(d.being_collected, 0) - d.next.amount - d.past_due
    end::decimal(18, 2) as cover_if_apart,
    case when d.next_due_on is null then greatest(0, coalesce(d.being_collected, 0) - coalesce(b.bank_balance, c.in_bank))
        else greatest(0, coalesce(d.being_collected, 0) + coalesce(d.next.amount, greatest(0, round(
            d.next.share * (c.charged - c.proceeds) - c.credits - coalesce(d.being_collected, 0), 2)))
            - coalesce(b.bank_balance, c.in_bank))
    end::decimal(18, 2) as lacking,
    coalesce(o.posted_orders, 0) as posted_orders,
    coalesce(o.posted_packages, 0) as posted_packages
from measures.charges c
join chosen.days r on r.as_of = c.as_of
join stock k on k.as_of = c.as_of and k.troop = c.troop
left join families f on f.as_of = c.as_of and f.troop = c.troop
left join dues d on d.as_of = c.as_of and d.troop = c.troop
left join measures.bank_balances b on b.as_of = c.as_of and b.troop = c.troop
left join posted o on o.as_of = c.as_of and o.troop = c.troop
left join facts.submitted s on s.troop = c.troop and s.week_ending = c.as_of
where c.is_asked
