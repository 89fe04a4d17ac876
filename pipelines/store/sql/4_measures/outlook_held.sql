-- One row an asked day, earlier week, level (troop, item of a troop, area, item of the area) and span (the coming week,
-- the rest of the season): how often the ranges given at that week's end held, by what is known on the day. Only what was
-- wholly sent is judged: every week of the span, of the area by every troop. As everywhere, a week that came in late
-- counts in the ranges too. Sources: measures.outlook, measures.weekly_sales, chosen.days, season.rules.
with given as (
    select o.as_of as given_on, o.week, o.weeks, o.troop, o.item, o.low, o.high, o.next_low, o.next_high
    from measures.outlook o
    cross join season.rules u
    where o.week < o.weeks and o.week > 0 and o.as_of = u.first_week_ending + 7 * (o.week - 1)
),
spans as (
    select given_on, week, troop, item, 'the coming week' as span, week + 1 as to_week, next_low as low, next_high as high
    from given
    union all by name
    select given_on, week, troop, item, 'the rest of the season' as span, weeks as to_week, low, high
    from given
),
sold as (
    select troop, item, week_no, sum(sold)::bigint as sold
    from measures.weekly_sales
    group by grouping sets ((troop, item, week_no), (troop, week_no))
),
of_troops as (
    select
        s.given_on, s.week, s.span, s.to_week, s.troop, s.item, s.low, s.high, coalesce(sum(k.sold), 0) as sold,
        count(k.week_no) = max(s.to_week - s.week) as is_whole
    from spans s
    left join sold k on k.troop = s.troop and k.item is not distinct from s.item
        and k.week_no > s.week and k.week_no <= s.to_week
    where s.troop is not null
    group by all
),
of_area as (
    select given_on, span, item, sum(sold) as sold, bool_and(is_whole) as is_whole
    from of_troops
    group by all
),
judged as (
    select given_on, week, span, to_week, troop, item, low, high, sold
    from of_troops
    where is_whole
    union all by name
    select s.given_on, s.week, s.span, s.to_week, s.troop, s.item, s.low, s.high, a.sold
    from spans s
    join of_area a on a.given_on = s.given_on and a.span = s.span and a.item is not distinct from s.item
    where s.troop is null and a.is_whole
)
select
    d.as_of, j.week, j.span,
    case when j.troop is null then 'area' else 'troop' end || case when j.item is null then '' else ', item' end as level,
    count(*)::integer as tried,
    (count(*) filter (j.sold between j.low and j.high))::integer as held,
    (count(*) filter (j.sold > j.high))::integer as above,
    (count(*) filter (j.sold < j.low))::integer as below
from judged j
join chosen.days d on d.as_of >= j.given_on + 7 * (j.to_week - j.week)
where j.low is not null
group by all
