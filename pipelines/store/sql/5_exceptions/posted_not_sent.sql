-- One row an asked day and posted order that is not on its way yet.
-- Sources: chosen.days, facts.order_spans, season.thresholds.
-- Label: A posted order is not sent
-- Meaning: A posted order was placed at least sent_days days ago and the organisation has not sent it; told until three
-- times that age. No troop can mend it.
with orders as (
    select
        d.as_of, s.troop, s."order" as order_no, s.placed_on, sum(s.packages)::bigint as packages,
        sum(s.goods_amount) as goods_amount,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'state', null, said.packages(s.packages) || ' of ' || s.item
            || ', not sent', s.goods_amount, s.packages) order by s.item) as evidence
    from chosen.days d
    cross join season.thresholds f
    join facts.order_spans s on s.mode = 'by_post' and s.state = 'placed' and s.from_on <= d.as_of
        and (s.until_on is null or s.until_on > d.as_of)
        and s.placed_on between d.as_of - 3 * f.sent_days and d.as_of - f.sent_days
    group by all
)
select
    as_of, troop, order_no as subject, 'watch' as severity, 'orders' as about, goods_amount as at_stake, packages,
    null as met,
    'Order ' || order_no || ' of ' || said.day(placed_on) || ' (' || said.packages(packages) || ') is not sent after '
        || said.count(as_of - placed_on, 'day', 'days') || '.' as what,
    'Ask the organisation when it goes out.' as next_step,
    'Has the buyer asked where this order is?' as ask,
    evidence
from orders
