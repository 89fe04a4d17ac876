-- One row a line of a statement of account: what a troop and the organisation (party empty), or a family and its troop,
-- came to charge and credit by a day, a kind of event and its reference. balance: what is owed after it; the last of a
-- day's is what is owed on that day. A posted or donated order is charged and credited at once.
-- Sources: ledger.postings, ledger.kinds.
with told as (
    select
        p.troop, case when starts_with(p.account, 'organisation_') then '' else p.participant end as party, p.on_day,
        p.kind, k.what,
        case when p.table_name in ('online_orders', 'families', 'stalls') then null else p.reference end as reference,
        p.account, p.packages, p.amount
    from ledger.postings p
    join ledger.kinds k on k.kind = p.kind
    where p.account = 'families' or starts_with(p.account, 'organisation_')
),
lines as (
    select
        troop, party, on_day, kind, what, reference,
        sum(abs(packages)) filter (account in ('organisation_charged', 'families'))::integer as packages,
        coalesce(sum(case when account = 'organisation_charged' then -amount when kind in ('hand_out', 'bring_back',
            'donation_out', 'donation_back') and account = 'families' then amount end), 0)::decimal(18, 2) as charged,
        coalesce(sum(case when account = 'organisation_charged' or kind in ('hand_out', 'bring_back', 'donation_out',
            'donation_back') then null when account = 'families' then -amount else amount end), 0)::decimal(18, 2) as credited
    from told
    group by all
)
select
    *, sum(charged - credited) over (partition by troop, party order by on_day, kind, reference rows unbounded preceding)
        ::decimal(18, 2) as balance
from lines
