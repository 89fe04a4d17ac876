-- One row an asked day, troop and thing that is open before its season can end. is_needed: without it the troop is not
-- ready. Of a debt handed over counts what the family still owes of it: the rest was paid or credited since, and hides
-- nothing that another family owes.
-- Sources: follow_up.closing_needed, measures.season_end, measures.standing, measures.families, follow_up.debts.
with handed as (
    select
        d.as_of, d.troop, sum(least(d.amount, greatest(0, coalesce(f.owes, 0)))) as amount, sum(d.amount) as in_all,
        count(*) filter (d.accepted_on is null)::bigint as waiting
    from follow_up.debts d
    left join measures.families f on f.as_of = d.as_of and f.troop = d.troop and f.participant = d.participant
    where d.taken_back_on is null
    group by all
)
select *
from follow_up.closing_needed
union all by name
select s.as_of, s.troop, 8 as place, 'families' as point, false as is_needed, 'leader' as who, f.close_by as by_on,
    s.families_owe - coalesce(h.amount, 0) as amount,
    'Families owe ' || said.money(s.families_owe - coalesce(h.amount, 0)) || ': to be collected, or handed over with what '
        || 'the book has.' as what
from measures.standing s
join measures.season_end f on f.as_of = s.as_of and f.troop = s.troop
left join handed h on h.as_of = s.as_of and h.troop = s.troop
where s.families_owe - coalesce(h.amount, 0) > 0
union all by name
select h.as_of, h.troop, 9 as place, 'handed over' as point, false as is_needed, 'organisation' as who, f.close_by as by_on, h.in_all as amount,
    said.count(h.waiting, 'debt was', 'debts were') || ' handed over and not accepted yet.' as what
from handed h
join measures.season_end f on f.as_of = h.as_of and f.troop = h.troop
where h.waiting > 0
