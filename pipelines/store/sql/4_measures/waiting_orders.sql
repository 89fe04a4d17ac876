-- One row an asked day and online order that is to be delivered by hand and waits for the caregiver's answer.
-- Sources: chosen.days, facts.order_spans.
select
    d.as_of, s.troop, s."order" as order_no, s.seller, s.placed_on, date_diff('day', s.placed_on, d.as_of) as days,
    sum(s.packages)::bigint as packages, sum(s.goods_amount)::decimal(18, 2) as goods_amount,
    list(said.evidence(s.file_no, s.sheet, s.row_no, 'goods_amount', null, said.packages(s.packages) || ' of ' || s.item,
        s.goods_amount, s.packages) order by s.item) as evidence
from chosen.days d
join facts.order_spans s on s.mode = 'by_hand' and s.state = 'waiting' and s.from_on <= d.as_of
    and (s.until_on is null or s.until_on > d.as_of)
group by all
