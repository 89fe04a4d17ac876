-- One row an asked day, troop and due date reached whose payment or collection the lines of the troop's bank tell of:
-- seen_on, the day of the line, or none where the lines passed it by (not seen). Sources: measures.dues, measures.bank.
select
    d.as_of, d.troop, d.due_on, min(b.date) filter (b.line <> '') as seen_on,
    coalesce(bool_or(b.line <> ''), false) as is_seen
from measures.dues d
join measures.bank b on b.as_of = d.as_of and b.troop = d.troop and b.amount < 0
    and b.answers_kind in ('payment', 'collection') and b.answers_on between d.due_on - 1 and d.due_on + 5
    and (b.line <> '' or b.state = 'not seen')
where d.is_reached
group by all
