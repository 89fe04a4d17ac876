-- One row a day that balances are struck for and troop: the packages charged and sold by then, who took part, the rate
-- that follows, the proceeds, and by how much they changed. Counted from the ledger's own entries.
-- Sources: ledger.days, facts.entries, ledger.kinds, facts.stall_workers, accepted.roster, facts.troops, season.tiers,
-- season.rules.
with struck as (
    select
        (select min(d.as_of) from ledger.days d where d.as_of >= e.on_day) as as_of, e.troop, e.participant, e.kind,
        case when k.credit = 'organisation_charged' then e.packages when k.debit = 'organisation_charged' then -e.packages
            else 0 end as charged,
        k.packages_sold * e.packages as sold
    from facts.entries e
    join ledger.kinds k on k.kind = e.kind
    where e.packages is not null
),
by_day as (
    select as_of, troop, sum(charged) as charged, sum(sold) as sold
    from struck
    group by all
),
by_person as (
    select
        as_of, troop, participant,
        sum(case when kind in ('hand_out', 'bring_back', 'donation_out', 'donation_back') then sold else 0 end) as taken,
        count(*) filter (kind in ('remote_order', 'hand_order'))
            - count(*) filter (kind in ('remote_order_undone', 'hand_order_undone')) as orders
    from struck
    where participant <> 'troop'
    group by all
),
took_part as (
    select d.as_of, p.troop, p.participant
    from ledger.days d
    join by_person p on p.as_of <= d.as_of
    group by all
    having sum(p.taken) > 0 or sum(p.orders) > 0
    union by name
    select d.as_of, w.troop, w.participant
    from ledger.days d
    join facts.stall_workers w on w.week_ending <= d.as_of
),
divided as (
    select
        d.as_of, t.troop, t.extra_rate,
        coalesce((select sum(b.charged) from by_day b where b.troop = t.troop and b.as_of <= d.as_of), 0)::bigint as charged,
        coalesce((select sum(b.sold) from by_day b where b.troop = t.troop and b.as_of <= d.as_of), 0)::bigint as sold,
        coalesce(t.divisor, case r.proceeds_per
            when 'taking_part' then (select count(*) from took_part p where p.troop = t.troop and p.as_of = d.as_of)
            else (select count(*) from accepted.roster o where o.troop = t.troop and o.registered_on <= d.as_of
                and (o.left_on is null or o.left_on > d.as_of))
        end)::bigint as divisor
    from ledger.days d
    cross join facts.troops t
    cross join season.rules r
),
rated as (
    select
        as_of, troop, charged, sold, divisor,
        ((select max_by(s.rate, s.tier_no) from season.tiers s
            where s.tier_no = 1 or (divisor > 0 and sold >= s.from_average * divisor)) + extra_rate)::decimal(9, 4) as rate
    from divided
),
earned as (
    select *, round(rate * charged, 2)::decimal(18, 2) as proceeds
    from rated
)
select *, (proceeds - lag(proceeds, 1, 0) over (partition by troop order by as_of))::decimal(18, 2) as change
from earned
