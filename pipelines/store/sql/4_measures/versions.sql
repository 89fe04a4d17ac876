-- One row a file and troop's week that it reports, known by the known-on time: what became of it. status: held, counts
-- (it is the newest accepted word on a table), superseded. units_held: tables of it that are held.
-- Sources: landed.units, landed.files, accepted.units, accepted.current_units, chosen.known.
with told as (
    select
        u.troop, u.week_ending, u.file_no, u.table_name, u.rows_read, u.packages, u.dollars,
        a.unit_no is not null as is_accepted, c.unit_no is not null as is_current
    from landed.units u
    left join accepted.units a on a.unit_no = u.unit_no
    left join accepted.current_units c on c.unit_no = u.unit_no
    where u.week_ending is not null
),
found as (
    select
        t.troop, t.week_ending, t.file_no, f.name, f.landed_at, f.sender, f.what,
        count(*) filter (t.is_accepted)::bigint as units_accepted,
        count(*) filter (not t.is_accepted)::bigint as units_held,
        bool_or(t.is_current) as is_current,
        bool_or(t.table_name = 'stock' and t.rows_read > 0) as has_stock,
        sum(t.rows_read)::bigint as rows_read
    from told t
    join landed.files f on f.file_no = t.file_no
    cross join chosen.known k
    where f.landed_at <= k.known_on
    group by all
)
select
    *,
    case when units_held > 0 then 'held' when is_current then 'counts' else 'superseded' end as status
from found
