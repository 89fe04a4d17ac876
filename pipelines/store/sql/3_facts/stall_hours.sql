-- One row a stall whose place and day are known: at which place of the list (by its code or its title, else as it was
-- written), in which part of the day (none where its start is not told), and what it sold and took in all and in an hour.
-- Sources: accepted.stalls, accepted.places.
with held as (
    select
        troop, week_ending, date, start, min("end") as until, place as written,
        coalesce(sum(packages), 0)::bigint as packages,
        (coalesce(sum(cash), 0) + coalesce(sum(card), 0))::decimal(18, 2) as takings
    from accepted.stalls
    where date is not null and place is not null
    group by all
),
known as (
    select place, lower(trim(place)) as name from accepted.places
    union by name
    select place, lower(trim(title)) as name from accepted.places
),
named as (
    select name, min(place) as place from known group by name
)
select
    h.troop, h.week_ending, h.date, h.start, h.until, coalesce(n.place, h.written) as place, h.packages, h.takings,
    case when h.start < time '12:00' then 'morning' when h.start < time '17:00' then 'afternoon'
        when h.start is not null then 'evening' end
        as part_of_day,
    case when h.until > h.start then date_diff('minute', h.start, h.until) / 60 end as hours,
    h.packages / hours as packages_an_hour,
    h.takings / hours as takings_an_hour
from held h
left join named n on n.name = lower(trim(h.written))
