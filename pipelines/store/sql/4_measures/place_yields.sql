-- One row an asked day, place and part of the day (empty: all day): how many stalls stood there, and the middle and the
-- quartiles of what one sold and took in an hour; takings: the middle takings of a stall. No figure below 3 stalls.
-- All troops together. Sources: chosen.days, facts.stall_hours.
with told as (
    select d.as_of, s.*, unnest([s.part_of_day, '']) as part
    from chosen.days d
    join facts.stall_hours s on s.week_ending <= d.as_of
),
counted as (
    select
        as_of, place, part as part_of_day, count(*)::bigint as stalls, count(hours)::bigint as timed,
        median(takings)::double as takings,
        median(packages_an_hour)::double as packages_an_hour, median(takings_an_hour)::double as takings_an_hour,
        quantile_cont(takings_an_hour, 0.25)::double as low, quantile_cont(takings_an_hour, 0.75)::double as high
    from told
    where part is not null
    group by all
)
select
    as_of, place, part_of_day, stalls, timed,
    case when stalls >= 3 then takings end as takings,
    case when timed >= 3 then packages_an_hour end as packages_an_hour,
    case when timed >= 3 then takings_an_hour end as takings_an_hour,
    case when timed >= 3 then low end as low,
    case when timed >= 3 then high end as high
from counted
