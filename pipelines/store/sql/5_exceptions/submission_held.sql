-- One row an asked day, troop and week of which a submission is held and none that came later is accepted.
-- Sources: chosen.days, chosen.known, landed.units, landed.files, landed.findings, accepted.units.
-- Label: A submission is held
-- Meaning: A workbook or rows of a week could not be accepted; nothing of it counts until it is mended. At stake is the
-- money of families and stalls that it states.
with held as (
    select u.*
    from landed.units u
    cross join chosen.known k
    join landed.files l on l.file_no = u.file_no and l.landed_at <= k.known_on
    where u.week_ending is not null and u.troop is not null
        and (u.accepted_at is null or u.accepted_at > k.known_on)
),
open as (
    select h.*
    from held h
    anti join accepted.units n on n.table_name = h.table_name and n.troop = h.troop
        and n.week_ending = h.week_ending and n.file_no > h.file_no
),
latest as (
    select *
    from open
    qualify file_no = max(file_no) over (partition by troop, week_ending)
),
stated as (
    select
        troop, week_ending, file_no, sum(rows_read) as rows_read,
        coalesce(sum(dollars) filter (table_name in ('families', 'stalls')), 0) as at_stake,
        coalesce(sum(u.packages) filter (table_name in ('families', 'stalls')), 0) as packages,
        list(said.evidence(file_no, table_name, null, null, null, 'stated, not counted',
            case when table_name in ('families', 'stalls') then dollars end,
            case when table_name in ('families', 'stalls') then u.packages end) order by table_name)
            filter (rows_read > 0) as evidence
    from latest u
    group by all
),
found as (
    select
        h.troop, h.week_ending, h.file_no, count(*) as findings,
        list(said.finding(n.file_no, n.sheet, n.cell, 'found ' || n.found || '; ' || n.how) order by n.sheet, n.cell)
            as evidence
    from (select distinct troop, week_ending, file_no, unit from latest) h
    cross join chosen.known k
    join landed.findings n on n.file_no = h.file_no and n.unit in (h.unit, '') and not n.is_note
        and n.found_at <= k.known_on and (n.ended_at is null or n.ended_at > k.known_on)
    group by all
)
select
    d.as_of, s.troop, s.week_ending::varchar as subject, 'act now' as severity, 'submissions' as about,
    s.at_stake, s.packages, null as met,
    'The submission of ' || said.week(s.week_ending) || ' is held: '
        || said.count(coalesce(f.findings, 0), 'cell needs', 'cells need') || ' mending; '
        || said.packages(s.packages) || ' and ' || said.money(s.at_stake) || ' are not counted yet.' as what,
    'Read the findings out, and ask for the mended workbook.' as next_step,
    'Could you mend these cells and send the workbook again?' as ask,
    coalesce(s.evidence, []) || coalesce(f.evidence, []) as evidence
from chosen.days d
join stated s on s.week_ending <= d.as_of
left join found f using (troop, week_ending, file_no)
