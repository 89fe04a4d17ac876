-- One row a stall (named by its day, start and place) of a troop's week. Sources: accepted.stalls, season.items.
select
    s.troop, s.week_ending, s.date, s.start, s.place,
    coalesce(sum(s.packages), 0)::bigint as packages,
    coalesce(sum(s.packages * i.price), 0)::decimal(18, 2) as sold_value,
    coalesce(sum(s.cash), 0)::decimal(18, 2) as cash,
    coalesce(sum(s.card), 0)::decimal(18, 2) as card,
    min(s.file_no) as file_no, min(s.sheet) as sheet, min(s.row_no) as row_no,
    coalesce(min(s.row_no) filter (s.cash <> 0 or s.card <> 0), min(s.row_no)) as money_row_no
from accepted.stalls s
left join season.items i on i.code = s.item
where s.date is not null
group by all
