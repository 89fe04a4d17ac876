-- One row an asked day, troop and participant with an account: families.csv. Charges of a week take all that was paid
-- and brought back, oldest first; where that is below 0 it is owed now. Sources: measures.family_sums, facts.family_weeks,
-- measures.progress, accepted.roster.
with weeks as (
    select
        p.as_of, p.troop, p.participant, p.paid, date_diff('day', f.week_ending, p.as_of) as days_old, f.charged,
        -sum(least(f.charged, 0)) over (partition by p.as_of, p.troop, p.participant) as brought_back_value,
        sum(greatest(f.charged, 0)) over (
            partition by p.as_of, p.troop, p.participant order by f.week_ending
        ) as charged_so_far
    from measures.family_sums p
    join facts.family_weeks f on f.troop = p.troop and f.participant = p.participant and f.week_ending <= p.as_of
),
aged as (
    select
        as_of, troop, participant, any_value(brought_back_value) as brought_back_value,
        sum(unpaid) filter (days_old <= 7) as age_0_7,
        sum(unpaid) filter (days_old between 8 and 14) as age_8_14,
        sum(unpaid) filter (days_old between 15 and 30) as age_15_30,
        sum(unpaid) filter (days_old > 30) as age_over_30
    from (
        select
            *,
            case when charged > 0
                then least(charged, greatest(charged_so_far - greatest(paid + brought_back_value, 0), 0)) end as unpaid
        from weeks
    )
    group by all
),
owing as (
    select
        p.*,
        (coalesce(a.age_0_7, 0) + greatest(-(p.paid + coalesce(a.brought_back_value, 0)), 0))::decimal(18, 2) as owes_0_7,
        coalesce(a.age_8_14, 0)::decimal(18, 2) as owes_8_14,
        coalesce(a.age_15_30, 0)::decimal(18, 2) as owes_15_30,
        coalesce(a.age_over_30, 0)::decimal(18, 2) as owes_over_30,
        greatest(0, p.paid_cash + p.paid_card + p.settled - p.charged)::decimal(18, 2) as overpaid
    from measures.family_sums p
    left join aged a using (as_of, troop, participant)
)
select
    o.*, greatest(greatest(0, -o.owes) - o.overpaid, 0)::decimal(18, 2) as paid_ahead,
    g.promised, g.stall_credit, g.progress, r.household
from owing o
join measures.progress g using (as_of, troop, participant)
left join accepted.roster r on r.troop = o.troop and r.participant = o.participant
