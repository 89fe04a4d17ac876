-- One row an asked day that ends a week, and troop: whether the week was sent, whether something is held that nothing which
-- came later took the place of, how many files told of it. Sources: measures.standing, measures.versions.
with told as (
    select
        troop, week_ending,
        count(*) filter (units_accepted > 0 and has_stock)::bigint as times_sent,
        count(*) filter (status = 'held' and file_no > coalesce(counting, 0))::bigint as files_held,
        min(landed_at) filter (units_accepted > 0 and has_stock) as first_sent_at,
        max(landed_at) filter (units_accepted > 0 and has_stock) as last_sent_at
    from (
        select
            *,
            max(file_no) filter (units_accepted > 0 and has_stock) over (partition by troop, week_ending) as counting
        from measures.versions
    )
    group by all
)
select
    s.as_of, s.week_no, s.troop, s.submitted,
    coalesce(t.times_sent, 0) as times_sent, coalesce(t.files_held, 0) as files_held,
    t.first_sent_at, t.last_sent_at
from measures.standing s
left join told t on t.troop = s.troop and t.week_ending = s.as_of
