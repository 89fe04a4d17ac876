-- One row an asked day and troop: where every dollar is and where every package is, each with what is left over, which
-- must be nothing; and whether the ledger's sums, and the packages and rate that its proceeds go by, are the standing's.
-- Sources: measures.standing, measures.items, ledger.balances, ledger.proceeds.
with packages as (
    select as_of, troop,
        sum(available - on_hand_or_expected - damaged - coalesce(missing, 0) - sold_from_stock)::bigint as packages_left
    from measures.items
    group by all
),
sums as (
    select
        as_of, troop,
        sum(balance) as trial_balance,
        sum(balance) filter (starts_with(account, 'organisation_')) as organisation,
        sum(balance) filter (account = 'stock') as stock,
        sum(balance) filter (account = 'damaged') as damaged,
        sum(balance) filter (account = 'missing') as missing,
        sum(balance) filter (account = 'families') as families,
        sum(balance) filter (account is null) as unplaced
    from ledger.balances
    group by all
)
select
    s.as_of, s.troop,
    (s.available_value + s.remote_value + s.gifts - s.on_hand_value - s.damaged_value - s.missing_value - s.families_owe
        - s.stall_short - s.not_banked - s.in_bank - s.remitted - s.paid_online - s.settled_otherwise
        - s.float_out - s.bank_fees)
        ::decimal(18, 2) as dollars_left,
    p.packages_left,
    coalesce(b.trial_balance, 0)::decimal(18, 2) as trial_balance,
    (coalesce(b.organisation, 0) + s.owed)::decimal(18, 2) as organisation_off,
    (coalesce(b.stock, 0) - s.on_hand_value)::decimal(18, 2) as stock_off,
    (coalesce(b.damaged, 0) - s.damaged_value)::decimal(18, 2) as damaged_off,
    (coalesce(b.missing, 0) - s.missing_value)::decimal(18, 2) as missing_off,
    (coalesce(b.families, 0) - s.families_owe)::decimal(18, 2) as families_off,
    (e.sold - s.packages_sold)::bigint as sold_off,
    (e.charged - s.available - s.remote)::bigint as charged_off,
    (e.divisor - s.divisor)::bigint as divisor_off,
    (e.rate - s.proceeds_rate)::decimal(9, 4) as rate_off
from measures.standing s
join ledger.proceeds e on e.as_of = s.as_of and e.troop = s.troop
join packages p on p.as_of = s.as_of and p.troop = s.troop
left join sums b on b.as_of = s.as_of and b.troop = s.troop
