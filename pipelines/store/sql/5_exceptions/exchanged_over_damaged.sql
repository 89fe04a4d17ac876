-- One row an asked day, troop and item of which more was exchanged than was ever reported damaged.
-- Sources: measures.items, accepted.supply, season.items.
-- Label: More exchanged than was damaged
-- Meaning: The organisation gave good packages for more damaged ones than the troop ever reported. At stake is the price of
-- those beyond: damaged packages may not have been written down, or the exchange is a supply.
with over as (
    select i.as_of, i.troop, i.item, -i.damaged as packages, t.title, (-i.damaged * i.price)::decimal(18, 2) as at_stake
    from measures.items i
    join season.items t on t.code = i.item
    where i.damaged < 0
),
evidence as (
    select
        o.as_of, o.troop, o.item,
        list(said.evidence(p.file_no, p.sheet, p.row_no, 'packages', null,
            said.packages(p.packages) || ' exchanged on ' || said.day(p.date), null, p.packages)
            order by p.date, p.file_no, p.row_no) as evidence
    from over o
    join accepted.supply p on p.troop = o.troop and p.item = o.item and p.kind = 'exchange' and p.date <= o.as_of
    group by all
)
select
    o.as_of, o.troop, o.item as subject, 'ask' as severity, 'stock' as about, o.at_stake, o.packages::integer as packages,
    null as met,
    said.packages(o.packages) || ' of ' || o.title || ' more came in exchange than was ever reported damaged.' as what,
    'Ask whether damaged packages were not written down; if not, the exchange was a supply.' as next_step,
    'Were there more damaged packages than you wrote down?' as ask,
    e.evidence || [said.worked_out('more exchanged than reported damaged', o.at_stake, null)] as evidence
from over o
join evidence e using (as_of, troop, item)
