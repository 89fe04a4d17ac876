-- One row an asked day, troop, account and part of it: its balance by the ledger beside what the measures say.
-- Sources: ledger.balances, ledger.measured, chosen.days.
select
    coalesce(b.as_of, m.as_of) as as_of, coalesce(b.troop, m.troop) as troop, coalesce(b.account, m.account) as account,
    coalesce(b.part, m.part) as part,
    coalesce(b.balance, 0) as balance, coalesce(m.balance, 0) as measured,
    coalesce(b.balance, 0) - coalesce(m.balance, 0) as difference,
    coalesce(b.packages, 0) as packages, coalesce(m.packages, 0) as packages_measured
from (select * from ledger.balances where as_of in (select as_of from chosen.days)) b
full join ledger.measured m on m.as_of = b.as_of and m.troop = b.troop and m.account is not distinct from b.account and m.part is not distinct from b.part
