-- One row an asked day, troop and stocked item, of all items together, and of all troops together (troop and item are
-- empty where all are meant): how many packages will still go out in the rest of the season and in the week to come,
-- with the range that holds 8 times of 10, beside what is on hand and what orders already paid still need.
-- Worked out by pipelines/figures/outlook.py, which says how. Sources: temp.outlook, measures.items, measures.still_needed.
with here as (
    select
        k.as_of, k.troop, k.item, sum(k.on_hand_or_expected)::bigint as on_hand, sum(coalesce(n.needed, 0))::bigint as needed,
        bool_and(k.on_hand is not null) as is_counted, max(k.price) as price
    from measures.items k
    left join measures.still_needed n using (as_of, troop, item)
    where k.is_stocked
    group by grouping sets ((k.as_of, k.troop, k.item), (k.as_of, k.troop), (k.as_of, k.item), (k.as_of))
)
select
    o.* exclude (tries), o.tries::integer as tries, h.on_hand, h.needed, h.is_counted,
    case when o.item is not null then h.price end as price,
    case when o.unsent > 0 and not h.is_counted then o.unsent end as in_weeks_not_sent,
    case
        when h.on_hand > greatest(h.needed, o.high) then 'much will be left'
        when h.on_hand < greatest(h.needed, o.mean) then 'may lack'
        else 'enough'
    end as word
from temp.outlook o
join here h on h.as_of = o.as_of and h.troop is not distinct from o.troop and h.item is not distinct from o.item
