-- One row an asked day, troop and pair of columns or lines that would fit if they were the other way round.
-- Sources: chosen.days, measures.items, accepted.stock, accepted.families, accepted.stalls, accepted.banked,
-- facts.family_weeks, facts.stalls, season.items, season.thresholds.
-- Label: Two columns swapped
-- Meaning: Two items' counts, or their packages of a week in Families or Stalls, would fit to the package if they were
-- swapped (off by swapped_from_packages or more); or that many packages of an item were damaged in a week, and more
-- than are on hand; or a week's deposits are to the cent its card money, swapped_from or more above its cash.
-- At stake is what seems to be missing, damaged, or banked.
-- Asked: before it is sent.
with pairs as (  -- of each pair the first lacks what the second has too many of
    select a.as_of, a.troop, a.item, a.price, a.missing, b.item as other
    from measures.items a
    cross join season.thresholds f
    join measures.items b on b.as_of = a.as_of and b.troop = a.troop and b.missing = -a.missing
    where a.missing >= f.swapped_from_packages
),
lines as (
    select troop, week_ending, 'Stock' as part, item, on_hand as packages, 'on_hand' as column_name, file_no, sheet, row_no
    from accepted.stock
    union all by name
    select troop, week_ending, 'Families' as part, item, packages, 'packages' as column_name, file_no, sheet, row_no
    from accepted.families
    union all by name
    select troop, week_ending, 'Stalls' as part, item, packages, 'packages' as column_name, file_no, sheet, row_no
    from accepted.stalls
),
swapped as (
    select
        p.as_of, p.troop, p.item, p.other, p.price, p.missing, l.part,
        list(said.evidence(l.file_no, l.sheet, l.row_no, l.column_name, case l.part when 'Stock' then null else l.item end,
            l.packages || ' of ' || l.item, null, l.packages) order by l.row_no, l.item) as evidence
    from pairs p
    join lines l on l.troop = p.troop and l.week_ending = p.as_of and l.item in (p.item, p.other) and l.packages <> 0
    group by p.as_of, p.troop, p.item, p.other, p.price, p.missing, l.part
    having sum(case l.item when p.other then l.packages else -l.packages end) = p.missing
    qualify row_number() over (partition by p.as_of, p.troop, p.item, p.other order by l.part = 'Stock' desc, l.part) = 1
),
money as (
    select troop, week_ending, cash, card, 0 as banked from facts.family_weeks
    union all by name
    select troop, week_ending, cash, card, 0 as banked from facts.stalls
    union all by name
    select troop, week_ending, 0 as cash, 0 as card, amount as banked from accepted.banked where amount is not null
),
banked as (
    select troop, week_ending, sum(cash) as cash, sum(card) as card
    from money
    cross join season.thresholds f
    group by troop, week_ending
    having sum(banked) = sum(card) and sum(card) > 0 and sum(card) - sum(cash) >= any_value(f.swapped_from)
)
select
    s.as_of, s.troop, s.item || ' and ' || s.other as subject, 'ask' as severity, 'stock' as about,
    (s.missing * s.price)::decimal(18, 2) as at_stake, s.missing as packages, null as met,
    said.packages(s.missing) || ' of ' || a.title || ' seem to be missing and as many of ' || b.title
        || ' too many: both fit if the two are swapped on ' || s.part || '.' as what,
    'Ask whether the two items were swapped.' as next_step,
    'Were ' || a.title || ' and ' || b.title || ' swapped on ' || s.part || '?' as ask,
    list_append(s.evidence, said.worked_out('would be in place', s.missing * s.price, s.missing)) as evidence
from swapped s
join season.items a on a.code = s.item
join season.items b on b.code = s.other
union all by name
select
    d.as_of, s.troop, concat(s.week_ending, ' ', s.item) as subject, 'ask' as severity, 'stock' as about,
    s.damaged * i.price as at_stake, s.damaged as packages, null as met,
    said.packages(s.damaged) || ' of ' || i.title || ' are damaged in ' || said.week(s.week_ending) || ' and '
        || s.on_hand || ' on hand.' as what,
    'Ask whether damaged and on hand were swapped.' as next_step,
    i.title || ', ' || said.week(s.week_ending) || ': are ' || s.damaged || ' damaged and ' || s.on_hand
        || ' on hand, or the other way round?' as ask,
    [said.evidence(s.file_no, s.sheet, s.row_no, 'damaged', null, 'damaged', s.damaged * i.price, s.damaged)]
        as evidence
from chosen.days d
join accepted.stock s on s.week_ending <= d.as_of and s.damaged > s.on_hand
join season.items i on i.code = s.item
cross join season.thresholds f
where s.damaged >= f.swapped_from_packages
union all by name
select
    d.as_of, m.troop, m.week_ending || ' cash and card' as subject, 'ask' as severity, 'cash' as about,
    m.card as at_stake, null as packages, null as met,
    said.money(m.card) || ' was banked in ' || said.week(m.week_ending) || ': just what it took by card, and not the '
        || said.money(m.cash) || ' of cash.' as what,
    'Ask whether cash and card were swapped.' as next_step,
    'Were cash and card swapped in ' || said.week(m.week_ending) || '? ' || said.money(m.card)
        || ' is told as card and was banked.' as ask,
    (select list(said.evidence(b.file_no, b.sheet, b.row_no, 'amount', null, 'banked', b.amount, null) order by b.row_no)
    from accepted.banked b
    where b.troop = m.troop and b.week_ending = m.week_ending and b.amount <> 0) as evidence
from chosen.days d
join banked m on m.week_ending <= d.as_of
