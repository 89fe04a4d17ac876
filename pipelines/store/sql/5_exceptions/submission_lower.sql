-- One row an asked day, troop, week and sheet whose newest accepted submission states less than the one before.
-- Sources: chosen.days, accepted.units, accepted.current_units, landed.families, landed.stalls, landed.banked,
-- season.items, season.thresholds.
-- Label: A newer submission states less
-- Meaning: Money (lower_from or more) or packages (lower_from_packages or more) of a week's Families, Stalls or Banked
-- sheet went down from one accepted submission to the next. At stake is the money; where only packages went down,
-- their value. Stays until it is settled.
with versions as (
    select c.table_name, c.troop, c.week_ending, c.unit_no as new_unit, max_by(p.unit_no, p.file_no) as old_unit
    from accepted.current_units c
    join accepted.units p on p.table_name = c.table_name and p.troop = c.troop and p.week_ending = c.week_ending
        and p.file_no < c.file_no
    where c.table_name in ('families', 'stalls', 'banked')
    group by all
),
lines as (
    select unit_no, file_no, sheet, row_no, 'cash' as column_name, participant as line,
        coalesce(cash, 0) + coalesce(card, 0) as money, coalesce(packages, 0) as packages, item
    from landed.families
    union all by name
    select unit_no, file_no, sheet, row_no, 'cash' as column_name, concat_ws(' ', date, place) as line,
        coalesce(cash, 0) + coalesce(card, 0) as money,
        coalesce(packages, 0) as packages, item
    from landed.stalls
    union all by name
    select unit_no, file_no, sheet, row_no, 'amount' as column_name, concat_ws(' ', date, slip) as line,
        coalesce(amount, 0) as money, 0 as packages, null as item
    from landed.banked
),
versioned as (
    select v.*, l.*, case when l.unit_no = v.old_unit then 1 else -1 end as sign, coalesce(i.price, 0) as price
    from versions v
    join lines l on l.unit_no in (v.old_unit, v.new_unit)
    left join season.items i on i.code = l.item
),
differences as (
    select
        table_name, troop, week_ending, line, column_name,
        sum(sign * money) as money, sum(sign * packages) as packages, sum(sign * packages * price) as worth,
        arg_max(file_no, file_no) as file_no, arg_max(sheet, file_no) as sheet,
        min(row_no) filter (sign = -1) as new_row, min(row_no) as any_row
    from versioned
    group by all
),
sums as (
    select
        table_name, troop, week_ending, sum(money) as money, sum(packages) as packages, sum(worth) as worth
    from differences
    group by all
),
lower as (
    select s.*, case when s.money >= f.lower_from then s.money when s.worth > 0 then s.worth end as at_stake,
        s.money >= f.lower_from as by_money
    from sums s
    cross join season.thresholds f
    where s.money >= f.lower_from or s.packages >= f.lower_from_packages
),
evidence as (
    select
        d.table_name, d.troop, d.week_ending,
        list(said.evidence(d.file_no, d.sheet, coalesce(d.new_row, d.any_row), d.column_name, null,
            coalesce(d.line, 'row') || case when d.new_row is null then ' was there before, now it is not'
                else ' stated more before' end,
            case when l.at_stake is null then null when l.by_money then d.money else d.worth end, d.packages)
            order by d.money desc, d.line, d.any_row) as evidence
    from differences d
    join lower l using (table_name, troop, week_ending)
    where d.money <> 0 or d.packages <> 0
    group by all
)
select
    d.as_of, l.troop, concat(l.week_ending, ' ', l.table_name) as subject, 'ask' as severity, 'submissions' as about,
    l.at_stake, l.packages, null as met,
    'The newer submission of ' || said.week(l.week_ending) || ' states '
        || concat_ws(' and ', case when l.money > 0 then said.money(l.money) end,
            case when l.packages > 0 then said.packages(l.packages) end)
        || ' less than the one before, on its sheet ' || upper(left(l.table_name, 1)) || substr(l.table_name, 2) || '.' as what,
    'Ask what was corrected; settle it with the reason.' as next_step,
    'What was corrected between the two workbooks?' as ask,
    e.evidence
from chosen.days d
join lower l on l.week_ending <= d.as_of
join evidence e using (table_name, troop, week_ending)
