-- One row an asked day and troop whose average for each participant taking part is out of line.
-- Sources: measures.comparisons, measures.standing.
-- Label: An average out of line
-- Meaning: Packages for each participant taking part lie so far from the median, measured by the median distance of
-- troops from it (modified z-score above 3.5), that the usual spread does not explain it. Too high is most often a
-- figure mistyped.
select
    c.as_of, c.troop, '' as subject, case when c.is_high then 'ask' else 'watch' end as severity, 'people' as about,
    null as at_stake, null as packages, null as met,
    round(c.value, 1)::decimal(12, 1) || ' packages for each of the ' || s.taking_part || ' taking part; the median of '
        || c.troops || case when c.compared_with = '' then ' troops' else ' troops of its level (' || c.compared_with || ')' end
        || ' is ' || round(c.expected, 1)::decimal(12, 1) || ', and half of them lie within '
        || round(c.spread, 1)::decimal(12, 1) || ' of it.' as what,
    case when c.is_high then 'Look for a figure typed twice, or in cases in place of packages.'
        else 'Ask what holds the sellers back.' end as next_step,
    case when c.is_high then 'Could you look over the packages of your families once more?'
        else 'What would help those who sell to sell a little more?' end as ask,
    [said.worked_out('packages sold by the troop', null, s.packages_sold)] as evidence
from measures.comparisons c
join measures.standing s on s.as_of = c.as_of and s.troop = c.troop
where c.measure = 'average' and (c.is_low or c.is_high)
