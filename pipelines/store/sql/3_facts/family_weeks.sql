-- One row a troop, participant and week: what the family took, brought back and handed in.
-- Sources: accepted.families, season.items.
select
    f.troop, f.participant, f.week_ending,
    coalesce(sum(f.packages) filter (f.packages > 0), 0)::bigint as taken,
    coalesce(-sum(f.packages) filter (f.packages < 0), 0)::bigint as brought_back,
    coalesce(sum(f.packages * i.price), 0)::decimal(18, 2) as charged,
    coalesce(sum(f.cash), 0)::decimal(18, 2) as cash,
    coalesce(sum(f.card), 0)::decimal(18, 2) as card
from accepted.families f
left join season.items i on i.code = f.item
where f.participant is not null
group by all
