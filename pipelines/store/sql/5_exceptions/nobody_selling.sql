-- One row an asked day and troop that has had packages for weeks and sold none.
-- Sources: measures.standing, measures.items, accepted.supply, accepted.stock, season.thresholds.
-- Label: Nobody selling
-- Meaning: A troop has had packages for nobody_weeks weeks or more; no participant takes part and no package is sold. At
-- stake is what it has on hand.
with idle as (
    select s.as_of, s.troop, s.registered, s.on_hand, min(p.date) as since
    from measures.standing s
    join accepted.supply p on p.troop = s.troop and p.date <= s.as_of and p.kind in ('opening', 'depot')
    cross join season.thresholds f
    where s.taking_part = 0 and s.packages_sold <= 0 and s.on_hand > 0
    group by all
),
stock as (
    select
        i.as_of, i.troop, sum(k.on_hand_or_expected * k.price) as at_stake,
        list(said.evidence(c.file_no, c.sheet, c.row_no, 'on_hand', null, 'on hand of ' || k.item,
            k.on_hand_or_expected * k.price, k.on_hand_or_expected) order by k.item) as evidence
    from idle i
    join measures.items k on k.as_of = i.as_of and k.troop = i.troop and k.on_hand_or_expected <> 0
    left join accepted.stock c on c.troop = k.troop and c.item = k.item and c.week_ending = k.as_of
    group by all
)
select
    i.as_of, i.troop, '' as subject, 'act now' as severity, 'people' as about, s.at_stake, i.on_hand as packages,
    null as met,
    'The troop has had packages since ' || said.day(i.since) || '; none of its '
        || said.count(i.registered, 'participant', 'participants') || ' has sold one, and ' || said.packages(i.on_hand)
        || ' are on hand.' as what,
    'Call: is the sale under way at all? Packages can go where they sell.' as next_step,
    'Has the sale begun, and would you rather pass the packages on?' as ask,
    s.evidence
from idle i
join stock s using (as_of, troop)
cross join season.thresholds f
where i.as_of - i.since >= 7 * f.nobody_weeks
