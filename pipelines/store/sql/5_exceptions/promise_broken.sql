-- One row an asked day and promise that was to be kept by then and was not: the exception has been found on every day
-- since, and what was paid towards it since, or what it fell by, is less than the amount promised.
-- Sources: chosen.days, accepted.follow_ups, follow_up.found.
-- Label: A promise not kept
-- Meaning: Somebody promised an amount, or that something would be settled, by a day that has passed. Kept once the
-- exception is gone, or once so much was paid, or it fell by so much. Of several promises the last one counts.
with promises as (
    select d.as_of, f.* exclude (as_of), f.as_of as promised_as_of
    from chosen.days d
    join accepted.follow_ups f on f.as_of <= d.as_of
    where f.kind in ('promise', 'settle')
    qualify row_number() over (partition by d.as_of, f.rule, f.troop, f.subject order by f.entry_no desc) = 1
),
due as (
    select *
    from promises
    where kind = 'promise' and on_day <= as_of
),
found_since as (
    select
        p.as_of, p.rule, p.troop, p.subject, count(*) as days_found,
        arg_max(e.at_stake, e.as_of) as at_stake_now, arg_max(e.met, e.as_of) as met_now, max(e.as_of) as last_found
    from due p
    join follow_up.found e on e.rule = p.rule and e.troop = p.troop and e.subject = p.subject
        and e.as_of between p.promised_as_of and p.as_of
    group by all
),
days_since as (
    select p.as_of, p.rule, p.troop, p.subject, count(*) as days
    from due p
    join chosen.days d on d.as_of between p.promised_as_of and p.as_of
    group by all
),
kept as (
    select
        p.*, greatest(coalesce(s.met_now - p.met, 0), coalesce(p.at_stake - s.at_stake_now, 0), 0) as paid,
        s.at_stake_now
    from due p
    join found_since s using (as_of, rule, troop, subject)
    join days_since d using (as_of, rule, troop, subject)
    where s.days_found = d.days and s.last_found = p.as_of
)
select
    as_of, troop, concat_ws(' ', rule, nullif(subject, '')) as subject, 'act now' as severity, 'promise' as about,
    least(amount - paid, at_stake_now)::decimal(18, 2) as at_stake, null::integer as packages, null::decimal(18, 2) as met,
    coalesce(said.money(amount) || ' was', 'It was') || ' promised for ' || said.day(on_day)
        || case when paid > 0 then '; ' || said.money(paid) || ' of it has come' else '' end || '.' as what,
    'Ask what came in between, and agree a new day.' as next_step,
    'What came in between, and which day would suit now?' as ask,
    [said.worked_out('was promised for ' || said.day(on_day), least(amount - paid, at_stake_now), null)] as evidence
from kept
where amount is null or paid < amount
