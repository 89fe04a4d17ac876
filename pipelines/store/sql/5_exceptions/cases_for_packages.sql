-- One row an asked day, troop and item, or stall, whose packages look like cases.
-- Sources: measures.unaccounted, measures.items, accepted.stock, accepted.stalls, chosen.days, season.items,
-- season.thresholds.
-- Label: Cases typed as packages
-- Meaning: An item's count is the number of cases that there should be, or a stall's takings fit its packages taken as
-- cases, and that makes a difference of cases_from_packages or more packages. At stake is their value.
-- Asked: before it is sent.
with counts as (
    select u.as_of, u.troop, u.item, u.price, k.on_hand, k.expected_on_hand - u.waiting as expected, i.title,
        k.expected_on_hand - u.waiting - k.on_hand as packages
    from measures.unaccounted u
    join measures.items k using (as_of, troop, item)
    join season.items i on i.code = u.item
    cross join season.thresholds f
    where i.packages_per_case > 1 and k.on_hand > 0
        and (k.expected_on_hand - u.waiting) // i.packages_per_case = k.on_hand
        and k.expected_on_hand - u.waiting - k.on_hand >= f.cases_from_packages
),
stalls as (
    select
        s.troop, s.week_ending, s.date, s.start, s.place, sum(coalesce(s.cash, 0) + coalesce(s.card, 0)) as takings,
        sum(s.packages)::bigint as typed, sum(s.packages * (i.packages_per_case - 1))::bigint as packages,
        sum(s.packages * (i.packages_per_case - 1) * i.price)::decimal(18, 2) as at_stake,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'packages', s.item, i.title,
            s.packages * (i.packages_per_case - 1) * i.price, s.packages) order by s.row_no, s.item)
            filter (s.packages <> 0) as evidence
    from accepted.stalls s
    left join season.items i on i.code = s.item
    cross join season.thresholds f
    where s.date is not null
    group by s.troop, s.week_ending, s.date, s.start, s.place
    having takings = sum(s.packages * i.packages_per_case * i.price)
        and sum(s.packages * (i.packages_per_case - 1)) >= any_value(f.cases_from_packages)
    qualify row_number() over (partition by s.troop, s.date, s.start, s.place order by s.week_ending) = 1
)
select
    c.as_of, c.troop, c.item as subject, 'ask' as severity, 'stock' as about, c.packages * c.price as at_stake,
    c.packages, null as met,
    format('{:,}', c.on_hand) || ' of ' || c.title || ' were counted where ' || said.packages(c.expected)
        || ' should be on hand: as many as there should be cases.' as what,
    'Ask whether cases were counted; if so, the count in packages is to be sent again.' as next_step,
    'On hand of ' || c.title || ': are the ' || format('{:,}', c.on_hand) || ' cases? Please count in packages.' as ask,
    [said.evidence(s.file_no, s.sheet, s.row_no, 'on_hand', null, 'counted', c.packages * c.price, c.on_hand)]
        as evidence
from counts c
join accepted.stock s on s.troop = c.troop and s.item = c.item and s.week_ending = c.as_of
union all by name
select
    d.as_of, s.troop, concat_ws(' ', 'stall', s.date::varchar, left(s.start::varchar, 5), s.place) as subject,
    'ask' as severity, 'stock' as about,
    s.at_stake, s.packages, null as met,
    'The stall' || coalesce(' at ' || s.place, '') || ' on ' || said.day(s.date) || ' sold '
        || said.packages(s.typed) || ' and took ' || said.money(s.takings)
        || ': what they come to if they are cases.' as what,
    'Ask whether cases were typed; if so, the packages are to be sent again.' as next_step,
    'The stall on ' || said.day(s.date) || ': are its packages cases? Please type packages.' as ask,
    s.evidence
from chosen.days d
join stalls s on s.week_ending <= d.as_of
