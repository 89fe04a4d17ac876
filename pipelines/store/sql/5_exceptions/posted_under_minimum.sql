-- One row an asked day and posted order with fewer packages than the season allows, a gift box as what it holds.
-- Sources: chosen.days, facts.order_spans, season.items, season.rules, season.thresholds.
-- Label: A posted order under the minimum
-- Meaning: A posted order placed or sent has fewer packages than ship_minimum ([online]). Told for posted_days days
-- after it was placed; once it is sent only to watch.
with orders as (
    select
        d.as_of, s.troop, s."order" as order_no, s.seller, s.placed_on, bool_or(s.state = 'placed') as is_placed,
        sum(s.packages * i.box_of)::bigint as packages, sum(s.goods_amount) as goods_amount,
        list(said.evidence(s.file_no, s.sheet, s.row_no, 'packages', null, said.packages(s.packages) || ' of ' || s.item,
            s.goods_amount, s.packages) order by s.item) as evidence
    from chosen.days d
    cross join season.thresholds f
    join facts.order_spans s on s.mode = 'by_post' and s.state in ('placed', 'sent') and s.from_on <= d.as_of
        and (s.until_on is null or s.until_on > d.as_of) and s.placed_on >= d.as_of - f.posted_days
    join season.items i on i.code = s.item
    group by all
)
select
    o.as_of, o.troop, o.order_no as subject, case when o.is_placed then 'ask' else 'watch' end as severity,
    'orders' as about, o.goods_amount as at_stake, o.packages, null as met,
    'Order ' || o.order_no || ' of ' || said.day(o.placed_on) || ' ('
        || case o.seller when 'troop' then 'the troop''s own page' else o.seller end || ') has '
        || said.packages(o.packages) || '; posted orders start at ' || r.ship_minimum || '. It is '
        || case when o.is_placed then 'not sent yet.' else 'on its way.' end as what,
    case when o.is_placed then 'Ask whether the buyer adds to it or takes it by hand.'
        else 'Nothing to mend; ask the organisation how it could be placed.' end as next_step,
    'Could the buyer add to this order, or have it delivered by hand?' as ask,
    o.evidence
from orders o
cross join season.rules r
where o.packages < r.ship_minimum
