-- One row a row of {frame}: what the entries up to its day come to, and what is made of these alone.
-- Sources: {frame}, facts.entries.
with by_day as (
    select {keys}, on_day, {by_day}
    from facts.entries
    where kind in ({kinds})
    group by all
),
summed as (
    select f.*, {sums}
    from {frame} f
    left join by_day e on {matched} and e.on_day <= f.as_of
    group by all
)
select *
from summed
