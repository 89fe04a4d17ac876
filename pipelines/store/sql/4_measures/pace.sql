-- One row a week's number of this season or the last: packages sold up to it, of the whole area. as_of is empty for
-- weeks to come. matched_*: of the troops that have both seasons. All troops together.
-- Sources: measures.standing, measures.last_season, accepted.last_season, chosen.days.
with past as (
    select week_no, sum(packages)::bigint as last_season
    from accepted.last_season
    where coalesce(item, '') = ''  -- of all items: rows of single items are part of these
    group by all
),
this as (
    select
        s.as_of, s.week_no,
        sum(s.packages_sold)::bigint as packages_sold,
        coalesce(sum(s.packages_sold) filter (l.troop is not null), 0)::bigint as matched_now,
        coalesce(sum(l.packages), 0)::bigint as matched_then,
        count(l.troop)::bigint as matched_troops
    from measures.standing s
    left join measures.last_season l on l.as_of = s.as_of and l.troop = s.troop
    group by all
)
select week_no, t.as_of, t.packages_sold, p.last_season, t.matched_now, t.matched_then, t.matched_troops
from this t
full join past p using (week_no)
