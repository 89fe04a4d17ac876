-- One row an asked day, troop and week up to it of which nothing is accepted and nothing held.
-- Sources: chosen.days, measures.standing, facts.troops, facts.submitted, landed.units, chosen.known, season.rules.
-- Label: A submission is missing
-- Meaning: No stock rows of a week are accepted for a troop that has participants or packages, and no workbook of that
-- week is held. To act now where the latest week is missing and another before it.
with weeks as (
    select d.as_of, w.as_of as week_ending
    from chosen.days d
    cross join season.rules r
    join chosen.days w on w.as_of <= d.as_of and (w.as_of - r.first_week_ending) % 7 = 0
),
held as (
    select distinct u.troop, u.week_ending
    from landed.units u
    cross join chosen.known k
    join landed.files l on l.file_no = u.file_no and l.landed_at <= k.known_on
    where u.table_name = 'stock' and (u.accepted_at is null or u.accepted_at > k.known_on)
),
expected as (
    select w.as_of, w.week_ending, t.troop
    from weeks w
    join measures.standing s on s.as_of = w.week_ending and (s.registered > 0 or s.available <> 0)
    join facts.troops t on t.troop = s.troop and coalesce(t.opened_on <= w.week_ending, true)
        and coalesce(t.closed_on > w.week_ending - 7, true)
),
missing as (
    select
        e.*, count(*) over (partition by e.as_of, e.troop) as weeks_missing,
        max(e.week_ending) over (partition by e.as_of, e.troop) as last_missing
    from expected e
    anti join facts.submitted b on b.troop = e.troop and b.week_ending = e.week_ending
    anti join held h on h.troop = e.troop and h.week_ending = e.week_ending
),
latest as (
    select m.as_of, m.troop, max(b.week_ending) as week_ending, arg_max(b.file_no, b.week_ending) as file_no
    from (select distinct as_of, troop from missing) m
    join facts.submitted b on b.troop = m.troop and b.week_ending <= m.as_of
    group by all
),
last_weeks as (
    select as_of, max(week_ending) as week_ending from weeks group by as_of
)
select
    m.as_of, m.troop, m.week_ending::varchar as subject,
    case when m.weeks_missing > 1 and m.last_missing = w.week_ending and m.week_ending = w.week_ending then 'act now'
        else 'ask' end as severity,
    'submissions' as about, null as at_stake, null as packages, null as met,
    'Nothing has come in for ' || said.week(m.week_ending) || '; '
        || coalesce('the latest submission is for ' || said.week(l.week_ending), 'no submission has come in yet') || '.'
        as what,
    'Ask for the workbook, or fill the week in together on the phone.' as next_step,
    'Could you send the workbook of that week, or shall we fill it in together?' as ask,
    [said.evidence(l.file_no, null, null, null, null,
        coalesce('the latest submission: ' || said.week(l.week_ending), 'no submission'), null, null)] as evidence
from missing m
join last_weeks w on w.as_of = m.as_of
left join latest l on l.as_of = m.as_of and l.troop = m.troop
