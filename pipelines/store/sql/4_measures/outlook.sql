-- One row an asked day, troop and stocked item: what is on hand, what hand-delivered orders still need of it, how many
-- weeks are left, what sells in one week and in all of them at the pace of the last weeks submitted (rounded up).
-- Sources: measures.items, measures.recent_sales, measures.still_needed, facts.submitted, season.rules.
with weeks as (
    select p.as_of, p.troop, count(*) as weeks_submitted
    from (select distinct as_of, troop from measures.items) p
    join facts.submitted b on b.troop = p.troop and b.week_ending <= p.as_of
    group by all
)
select
    k.as_of, k.troop, k.item, k.price, k.on_hand_or_expected as on_hand, k.on_hand is not null as is_counted,
    k.weeks_of_supply, coalesce(n.needed, 0) as needed, w.weeks_submitted, s.left_weeks as weeks_left,
    greatest(coalesce(r.sold, 0), 0)::bigint as recent_sold, coalesce(r.weeks, least(w.weeks_submitted, 3))::bigint as recent_weeks,
    ceil(greatest(coalesce(r.sold, 0), 0) / coalesce(r.weeks, 1))::bigint as sells_a_week,
    ceil(greatest(coalesce(r.sold, 0), 0) * s.left_weeks / coalesce(r.weeks, 1))::bigint as sells_yet
from measures.items k
join weeks w using (as_of, troop)
join (
    select d.as_of, greatest(0, ceil((u.last_day - d.as_of) / 7))::bigint as left_weeks
    from chosen.days d
    cross join season.rules u
) s using (as_of)
left join measures.recent_sales r using (as_of, troop, item)
left join measures.still_needed n using (as_of, troop, item)
where k.is_stocked
