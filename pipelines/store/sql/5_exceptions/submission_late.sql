-- One row an asked day, troop and one of the last two weeks whose first submission came in late.
-- Sources: chosen.days, accepted.units, landed.files, season.thresholds.
-- Label: A submission came in late
-- Meaning: The first accepted submission of a week landed more than late_after_days days after the week's end, or only
-- when other troops' submissions of a later week were there, though others had sent this one before. Told for two
-- weeks.
with first_in as (
    select u.troop, u.week_ending, min(l.landed_at) as landed_at, arg_min(u.file_no, l.landed_at) as file_no
    from accepted.units u
    join landed.files l on l.file_no = u.file_no
    where u.table_name = 'stock' and u.rows_read > 0 and u.week_ending is not null
    group by all
),
weeks as (
    select week_ending, min(landed_at) as landed_at
    from first_in
    group by all
),
next_in as (
    select w.week_ending, w.landed_at, min(n.landed_at) as next_landed_at
    from weeks w
    left join weeks n on n.week_ending > w.week_ending
    group by all
),
late as (
    select
        i.*, (i.landed_at::date - i.week_ending) as days,
        n.landed_at < n.next_landed_at and i.landed_at >= n.next_landed_at as came_with_a_later_week
    from first_in i
    join next_in n on n.week_ending = i.week_ending
)
select
    d.as_of, l.troop, l.week_ending::varchar as subject, 'watch' as severity, 'submissions' as about,
    null as at_stake, null as packages, null as met,
    'The submission of ' || said.week(l.week_ending) || ' came in '
        || case when l.days > f.late_after_days then said.count(l.days, 'day', 'days') || ' after its end'
            else 'when those of a later week were coming in' end || '.' as what,
    'Ask whether the form or the day makes it hard.' as next_step,
    'Is there something that makes it hard to send the week in time?' as ask,
    [said.evidence(l.file_no, null, null, null, null,
        'landed on ' || said.day(l.landed_at) || ' ' || strftime(l.landed_at, '%Y'), null, null)] as evidence
from chosen.days d
join late l on l.week_ending <= d.as_of and l.week_ending > d.as_of - 14
cross join season.thresholds f
where l.days > f.late_after_days or l.came_with_a_later_week
