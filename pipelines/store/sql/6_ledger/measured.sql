-- One row an asked day, troop, account and part of it: what the measures say it should hold, in money and, where it
-- holds packages, in packages. Sources: measures.items, measures.families, measures.standing.
select as_of, troop, 'stock' as account, item as part, (on_hand_or_expected * price)::decimal(18, 2) as balance,
    on_hand_or_expected as packages
from measures.items
union all
select as_of, troop, 'damaged', item, (damaged * price)::decimal(18, 2), damaged
from measures.items
union all
select as_of, troop, 'missing', item, (coalesce(missing, 0) * price)::decimal(18, 2), coalesce(missing, 0)
from measures.items
union all
select as_of, troop, 'families', participant, owes, 0
from measures.families
union all
select s.as_of, s.troop, l.account, '', l.balance, 0
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
    ('adjustments', s.settled_otherwise - s.adjustments)
) as l (account, balance)
