-- One row an asked day that ends a week submitted by the troop, and troop with items that nobody counted.
-- Sources: measures.items, measures.standing, accepted.stock, season.items.
-- Label: On hand not counted
-- Meaning: The week is submitted, but items of which the troop has had packages carry no count. At stake is the value
-- that should be on hand of them.
with uncounted as (
    select
        k.as_of, k.troop, count(*) as items, sum(k.expected_on_hand * k.price) as at_stake,
        sum(k.expected_on_hand) as packages, list(i.title order by i.item_no) as titles,
        list(said.evidence(c.file_no, c.sheet, c.row_no, 'on_hand', null, 'not counted: ' || i.title,
            k.expected_on_hand * k.price, k.expected_on_hand) order by i.item_no) as evidence
    from measures.items k
    join measures.standing s on s.as_of = k.as_of and s.troop = k.troop and s.submitted
    join season.items i on i.code = k.item
    left join accepted.stock c on c.troop = k.troop and c.item = k.item and c.week_ending = k.as_of
    where k.is_stocked and k.on_hand is null and k.available > 0
    group by all
)
select
    as_of, troop, '' as subject, 'ask' as severity, 'stock' as about, at_stake, packages, null as met,
    said.count(items, 'item was', 'items were') || ' not counted: ' || said.listed(titles) || '; '
        || said.packages(packages) || ' should be on hand.' as what,
    'Ask for a count before the next week ends.' as next_step,
    'Could two of you count these items before the week is over?' as ask,
    evidence
from uncounted
