-- One row an asked day and troop whose rate of the proceeds is lower than on the asked day before.
-- Sources: measures.standing, season.tiers, season.rules.
-- Label: The rate of the proceeds fell
-- Meaning: The troop's average lies in a lower tier than a week before, because more take part or packages came back; it can
-- rise again until the season closes. At stake is what the lower rate costs on all packages charged so far.
with moved as (
    select
        *,
        lag(proceeds_rate) over before as rate_before, lag(divisor) over before as divisor_before
    from measures.standing
    window before as (partition by troop order by as_of)
),
fallen as (
    select
        m.*, round((m.rate_before - m.proceeds_rate) * m.packages_charged, 2)::decimal(18, 2) as at_stake,
        greatest(1, ceil(t.from_average * m.divisor) - m.packages_sold)::bigint as to_next
    from moved m
    left join season.tiers t on t.tier_no = m.tier_no + 1
    where m.proceeds_rate < m.rate_before
)
select
    f.as_of, f.troop, '' as subject, 'watch' as severity, 'organisation' as about, f.at_stake, null as packages, null as met,
    'The rate fell from ' || said.money(f.rate_before) || ' to ' || said.money(f.proceeds_rate) || ' a package because '
        || case
            when f.divisor > f.divisor_before and r.proceeds_per = 'taking_part'
                then said.count(f.divisor - f.divisor_before, 'more takes part', 'more take part')
            when f.divisor > f.divisor_before then said.count(f.divisor - f.divisor_before, 'more counts', 'more count')
            else 'fewer packages are sold'
        end
        || case when f.to_next is null then '.' else '; ' || said.packages(f.to_next) || ' from the next tier.' end as what,
    'Nothing to do but to know it: a few packages more may bring the higher rate back.' as next_step,
    'Do you know that a few packages more would bring your higher rate back?' as ask,
    [said.worked_out('the lower rate on ' || said.packages(f.packages_charged) || ' charged', f.at_stake, null)] as evidence
from fallen f
cross join season.rules r
where f.at_stake > 0
