-- One row a day and exception: since when, how much it weighs against others, and what people decided about it.
-- state: open, promised, set aside, settled. weight: what is at stake (without an amount: without_amount) times 10 for
-- act now, 3 for ask, 1 for watch; a quarter more for each further week, at most double. code: names it in a command.
-- Sources: follow_up.found, exceptions.promise_broken, follow_up.runs, follow_up.decisions, season.thresholds.
with every as (
    from follow_up.found
    union all by name
    select 'promise_broken' as rule, * from exceptions.promise_broken
),
decided as (
    select
        e.*, r.first_seen, r.weeks_open, r.has_returned, d.on_day, d.amount, d.words,
        case
            when d.decided_as_of < r.first_seen then 'open'  -- it had cleared since
            when d.kind = 'settle' and coalesce(e.at_stake, 0) <= coalesce(d.at_stake, 0) then 'settled'
            when d.kind = 'set_aside' and e.as_of < d.on_day then 'set aside'
            when d.kind = 'promise' and e.as_of < d.on_day then 'promised'
            else 'open'
        end as state
    from every e
    join follow_up.runs r using (as_of, rule, troop, subject)
    left join follow_up.decisions d using (as_of, rule, troop, subject)
)
select
    e.as_of, e.rule, e.troop, e.subject, left(md5(concat_ws('/', e.rule, e.troop, e.subject)), 7) as code,
    e.severity, e.about, e.at_stake, e.packages, e.met, e.first_seen, e.weeks_open, e.has_returned,
    e.weeks_open = 1 as is_new, e.state,
    case when e.state in ('promised', 'set aside') then e.on_day end as until_on,
    case when e.state = 'promised' then e.amount end as promised,
    case when e.state <> 'open' then e.words end as decided,
    (coalesce(e.at_stake, f.without_amount) * case e.severity when 'act now' then 10 when 'ask' then 3 else 1 end
        * (4 + least(e.weeks_open - 1, 4)) * 0.25)::decimal(18, 2) as weight,
    e.what, e.next_step, e.ask, e.evidence
from decided e
cross join season.thresholds f
