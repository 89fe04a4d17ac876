-- One row an asked day, troop and stocked item: what it has (goods on their way and moves agreed on an earlier day
-- included), what orders already paid still need, what will probably go out, what a package earns and what one left
-- over costs. Sources: chosen.days, measures.outlook, measures.standing, measures.agreed_moves, accepted.supply,
-- accepted.troops, season.items, season.plan.
with supplied as (
    select d.as_of, u.troop, u.item, u.packages::bigint as packages
    from accepted.supply u
    join chosen.days d on u.date > d.as_of
    where u.kind in ('opening', 'depot')
),
agreed as (
    select *
    from measures.agreed_moves
    where agreed_as_of < as_of and given = 0 and got = 0 and not is_settled
),
coming as (
    select as_of, troop, item, sum(packages)::bigint as packages
    from (
        from supplied
        union all by name
        select as_of, receiver as troop, item, packages::bigint as packages from agreed
        union all by name
        select as_of, giver as troop, item, -packages::bigint as packages from agreed
    )
    group by all
),
whole as (
    select o.as_of, o.troop, o.part_left, o.part_soon, o.part_unsent, o.own_spread, o.area_spread, o.at_a_time
    from measures.outlook o
    where o.troop is not null and o.item is null
)
select
    o.as_of, o.week, o.weeks, o.troop, o.item, i.title, i.packages_per_case, i.price,
    o.on_hand + coalesce(c.packages, 0) as have, o.needed, o.is_counted, o.mean, o.unsent,
    w.part_left, w.part_soon, w.own_spread, w.area_spread, w.at_a_time,
    s.proceeds_rate as gain,
    case
        when p.hand_back_until >= o.as_of + 7 * p.lead_weeks then 0
        else greatest(coalesce(p.unsold_costs, i.price - s.proceeds_rate), 0)
    end::decimal(12, 4) as unsold,
    greatest(coalesce(p.unsold_costs, i.price - s.proceeds_rate), 0)::decimal(12, 4) as unsold_at_last,
    p.least_ratio, t.town, coalesce(t.spare_percent, 10) as spare_percent,
    coalesce(o.as_of <= p.order_until, true) as may_order,
    coalesce(p.hand_back_until >= o.as_of and p.hand_back_until < o.as_of + 7, false) as hands_back
from measures.outlook o
join whole w on w.as_of = o.as_of and w.troop = o.troop
join measures.standing s on s.as_of = o.as_of and s.troop = o.troop
join season.items i on i.code = o.item
cross join season.plan p
left join coming c on c.as_of = o.as_of and c.troop = o.troop and c.item = o.item
left join accepted.troops t on t.troop = o.troop
