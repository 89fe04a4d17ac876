-- One row an asked day and troop in which fewer take part than chance and the usual spread between troops explain.
-- Sources: measures.comparisons, measures.participant_points, accepted.roster.
-- Label: Few taking part
-- Meaning: Of those registered so few take part that a troop of this size, held against the rate and the spread of the
-- others, would hardly show it by chance; of all troops called so, at most one in twenty is called wrongly.
with low as (
    select * from measures.comparisons where measure = 'share' and is_low
),
aside as (
    select
        l.as_of, l.troop,
        list(said.evidence(r.file_no, r.sheet, r.row_no, 'participant', null, p.participant || ' does not take part yet',
            null, null) order by p.participant) as evidence
    from low l
    join measures.participant_points p on p.as_of = l.as_of and p.troop = l.troop and p.is_registered
        and not p.is_taking_part
    join accepted.roster r on r.troop = p.troop and r.participant = p.participant
    group by all
)
select
    l.as_of, l.troop, '' as subject, 'ask' as severity, 'people' as about, null as at_stake, null as packages,
    null as met,
    l.some || ' of ' || l."of" || ' taking part; '
        || case when l.compared_with = '' then 'in an area of ' else 'among troops of its level (' || l.compared_with || ') of ' end
        || round(100 * l.expected)::bigint || ' %'
        || case when l.spread > 0 then ' that varies as ours does' else '' end || ', this happens by chance '
        || said.chance(l.chance) || '.' as what,
    'Ask what keeps families away; offer what helps elsewhere: a stall together, a page opened together.' as next_step,
    'What would help the families that have not begun?' as ask,
    a.evidence
from low l
join aside a using (as_of, troop)
