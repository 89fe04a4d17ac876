-- One row an asked day, troop, account and part of it: what the measures say it should hold, in money and, where it
-- holds packages, in packages. Sources: measures.items, measures.families, measures.standing.
select as_of, troop, 'stock' as account, item as part, (on_hand_or_expected * price)::decimal(18, 2) as balance,
    on_hand_or_expected as packages
from measures.items
union all by name
select as_of, troop, 'damaged' as account, item as part, (damaged * price)::decimal(18, 2) as balance,
    damaged as packages
from measures.items
union all by name
select as_of, troop, 'missing' as account, item as part, (coalesce(missing, 0) * price)::decimal(18, 2) as balance,
    coalesce(missing, 0) as packages
from measures.items
union all by name
select as_of, troop, 'families' as account, participant as part, owes as balance, 0 as packages
from measures.families
union all by name
select s.as_of, s.troop, l.account, '' as part, l.balance, 0 as packages
from measures.standing s
cross join lateral (values
    ('cash', s.not_banked),
    ('bank', s.in_bank),
    ('stall_short', s.stall_short),
    ('organisation_charged', -s.charged),
    ('organisation_proceeds', s.proceeds),
    ('organisation_paid_online', s.paid_online),
    ('organisation_remitted', s.remitted),
    ('organisation_settled', s.settled_otherwise),
    ('organisation_adjusted', s.adjustments - s.settled_otherwise),
    ('proceeds', -s.proceeds),
    ('adjustments', s.settled_otherwise - s.adjustments),
    ('float', s.float_out),
    ('bank_fees', s.bank_fees),
    ('gifts', -s.gifts)
) as l (account, balance)
