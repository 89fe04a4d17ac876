-- One row an asked day, troop and line of its bank, with the rows of the book that it answers; and one row a row of the
-- book that no line answers (line empty). Matched by pipelines/figures/bank_matching.py, which says how.
-- state: matched, matched together (several deposits in one line), card (reaches the bank by itself), open (so far),
-- not reported (a line open for over a week); awaited, not seen (a row that the bank's lines passed by a week ago).
-- Sources: measures.bank_entries, temp.bank_pairs.
with rows as (
    select
        *,
        name || ' of ' || said.day(on_day) || case when words <> '' then case name when 'deposit' then ', slip ' else ' ' end
            || words else '' end as says
    from measures.bank_entries
    where not is_line
),
answered as (
    select
        p.as_of, p.troop, p.line_place, count(*) as many, max(p.days) as days,
        string_agg(r.says, '; ' order by r.place) as answers,
        list(said.evidence(r.file_no, r.sheet, r.row_no, 'amount', null, r.says, r.amount, null) order by r.place) as evidence,
        min(r.name) as answers_kind, min(r.on_day) as answers_on
    from temp.bank_pairs p
    join rows r on r.as_of = p.as_of and r.troop = p.troop and r.place = p.row_place
    group by all
),
reach as (
    select as_of, troop, min(on_day) as first_on, max(on_day) as last_on
    from measures.bank_entries
    where is_line
    group by all
)
select
    l.as_of, l.troop, l.name as line, l.on_day as date, l.amount, l.kind, coalesce(a.answers, '') as answers, a.days,
    case
        when a.many = 1 then 'matched'
        when a.many > 1 then 'matched together'
        when l.kind = 'card' then 'card'
        when date_diff('day', l.on_day, l.as_of) > 7 then 'not reported'
        else 'open'
    end as state,
    l.words, a.answers_kind, a.answers_on, l.place, l.table_name, l.file_no, l.sheet, l.row_no,
    coalesce(a.evidence, []) as evidence
from measures.bank_entries l
left join answered a on a.as_of = l.as_of and a.troop = l.troop and a.line_place = l.place
where l.is_line
union all by name
select
    r.as_of, r.troop, '' as line, r.on_day as date, r.amount, r.kind, r.says as answers, null as days,
    case when date_diff('day', r.on_day, r.as_of) > 7 and h.last_on >= r.on_day + 5 and h.first_on <= r.on_day + 5 then 'not seen'
        else 'awaited' end as state,
    r.words, r.name as answers_kind, r.on_day as answers_on, r.place, r.table_name, r.file_no, r.sheet, r.row_no,
    [] as evidence
from rows r
join reach h on h.as_of = r.as_of and h.troop = r.troop
anti join temp.bank_pairs p on p.as_of = r.as_of and p.troop = r.troop and p.row_place = r.place
