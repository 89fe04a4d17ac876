-- One row an asked day and move that both leaders had agreed to by then, the last of its giver, receiver and item: what
-- each side has reported since. Sources: chosen.days, accepted.follow_ups, accepted.moves.
with agreed as (
    select
        d.as_of, f.subject, f.troop as giver, f.as_of as agreed_as_of, f.entry_no, f.amount::integer as packages,
        regexp_extract(f.subject, ' → (.*) [^ ]+$', 1) as receiver,
        regexp_extract(f.subject, '[^ ]+$') as item
    from chosen.days d
    join accepted.follow_ups f on f.as_of <= d.as_of and f.rule = 'move_agreed' and f.kind = 'agree'
        and starts_with(f.subject, f.troop || ' → ')
    qualify row_number() over (partition by d.as_of, f.subject order by f.entry_no desc) = 1
),
called_off as (
    select a.as_of, a.subject, bool_or(f.entry_no is not null) as is_settled
    from agreed a
    left join accepted.follow_ups f on f.rule = 'move_agreed' and f.kind = 'settle' and f.subject = a.subject
        and f.entry_no > a.entry_no and f.as_of <= a.as_of
    group by all
)
select
    a.as_of, a.subject, a.giver, a.receiver, a.item, a.packages, a.agreed_as_of,
    coalesce(sum(m.packages) filter (m.direction = 'out'), 0)::bigint as given,
    coalesce(sum(m.packages) filter (m.direction = 'in'), 0)::bigint as got,
    c.is_settled
from agreed a
join called_off c using (as_of, subject)
left join accepted.moves m on m.item = a.item and m.date > a.agreed_as_of and m.week_ending <= a.as_of
    and case m.direction when 'out' then m.troop = a.giver and m.other_troop = a.receiver
        else m.troop = a.receiver and m.other_troop = a.giver end
group by all
