-- One row an asked day, troop and week whose Families tell the season so far in place of the week.
-- Sources: chosen.days, facts.family_weeks, accepted.families, season.items, season.thresholds.
-- Label: A week that tells the season so far
-- Meaning: Of what participants took of an item in the weeks before (cumulative_from_lines or more such lines), at
-- least cumulative_share stands in the week's Families again, each line as large or larger, and the week as a whole is
-- larger than all before it. At stake is the value of what would be counted twice.
-- Asked: before it is sent.
with totals as (
    select troop, week_ending, sum(taken - brought_back) as packages
    from facts.family_weeks
    group by all
),
larger as (  -- few weeks are larger than all before them, so few are looked at line by line
    select *
    from (select *, sum(packages) over (partition by troop order by week_ending
        rows between unbounded preceding and 1 preceding) as before from totals)
    where before > 0 and packages > before
),
lines as (
    select
        w.troop, w.week_ending, l.participant, l.item,
        sum(l.packages) filter (l.week_ending < w.week_ending) as before,
        coalesce(sum(l.packages) filter (l.week_ending = w.week_ending), 0) as packages,
        max(l.file_no) filter (l.week_ending = w.week_ending) as file_no,
        max(l.sheet) filter (l.week_ending = w.week_ending) as sheet,
        min(l.row_no) filter (l.week_ending = w.week_ending) as row_no
    from larger w
    join accepted.families l on l.troop = w.troop and l.week_ending <= w.week_ending and l.item is not null
        and l.participant is not null
    group by all
    having before > 0
),
tripped as (
    select
        l.troop, l.week_ending, count(*) as known, count(*) filter (l.packages >= l.before) as again,
        sum(l.before) filter (l.packages >= l.before) as packages,
        sum(l.before * i.price) filter (l.packages >= l.before) as at_stake,
        list(said.evidence(l.file_no, l.sheet, l.row_no, 'packages', l.item,
            l.participant || ': ' || l.before || ' before this week, ' || l.packages || ' in it', l.before * i.price,
            l.before) order by l.row_no, l.participant, l.item) filter (l.packages >= l.before) as evidence
    from lines l
    join season.items i on i.code = l.item
    group by l.troop, l.week_ending
)
select
    d.as_of, t.troop, t.week_ending::varchar as subject, 'ask' as severity, 'submissions' as about,
    t.at_stake::decimal(18, 2) as at_stake, t.packages, null as met,
    upper(left(said.week(t.week_ending), 1)) || substr(said.week(t.week_ending), 2) || ' has '
        || format('{:,}', t.again) || ' of the ' || said.count(t.known, 'line', 'lines')
        || ' of the weeks before again, each as large or larger: '
        || said.packages(t.packages) || ' may be counted twice.' as what,
    'Ask whether Families tells the season so far; if so, the week alone is to be sent again.' as next_step,
    'Does Families of ' || said.week(t.week_ending)
        || ' tell the season so far? Please type what was taken in this week alone.' as ask,
    t.evidence
from chosen.days d
join tripped t on t.week_ending <= d.as_of
cross join season.thresholds f
where t.known >= f.cumulative_from_lines and t.again >= f.cumulative_share * t.known
