-- One row a day that balances are struck for, troop, account and part of it (a family, or a stocked account's item):
-- what its postings come to. Sources: ledger.days, ledger.postings.
with struck as (
    select
        (select min(d.as_of) from ledger.days d where d.as_of >= p.on_day) as as_of, p.troop, p.account,
        case
            when p.account = 'families' then p.participant
            when p.account in ('stock', 'damaged', 'missing') then p.item
            else ''
        end as part,
        p.amount,
        case when p.account in ('stock', 'damaged', 'missing') then p.packages else 0 end as packages
    from ledger.postings p
),
changes as (
    select as_of, troop, account, part, sum(amount) as amount, sum(packages) as packages
    from struck
    group by all
)
select
    d.as_of, c.troop, c.account, c.part, sum(c.amount)::decimal(18, 2) as balance, sum(c.packages)::bigint as packages
from ledger.days d
join changes c on c.as_of <= d.as_of
group by all
