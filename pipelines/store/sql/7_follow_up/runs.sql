-- One row a day and exception found: since which of the asked days it has been found without a break, and for how many
-- of them. Sources: follow_up.found, exceptions.promise_broken, chosen.days.
with every as (
    select as_of, rule, troop, subject from follow_up.found
    union all by name
    select as_of, 'promise_broken' as rule, troop, subject from exceptions.promise_broken
),
days as (
    select as_of, row_number() over (order by as_of) as day_no from chosen.days
),
placed as (
    select e.*, d.day_no - row_number() over (partition by rule, troop, subject order by d.day_no) as run_no
    from every e
    join days d using (as_of)
)
select
    as_of, rule, troop, subject,
    min(as_of) over run as first_seen,
    (row_number() over (run order by as_of))::bigint as weeks_open,
    (dense_rank() over (partition by rule, troop, subject order by run_no) > 1) as has_returned
from placed
window run as (partition by rule, troop, subject, run_no)
