-- One row a day and exception, its evidence with file and cell as a person finds them.
-- Sources: follow_up.listed, landed.files, landed.cell_places.
with pieces as (
    select as_of, rule, troop, subject, unnest(evidence) as e, unnest(range(len(evidence))) as place
    from follow_up.listed
),
placed as (
    select
        p.as_of, p.rule, p.troop, p.subject, p.place, f.name as file, p.e.sheet as sheet,
        coalesce(p.e.cell, c.letters || coalesce(c.row_no, p.e.row_no), 'row ' || p.e.row_no) as cell,
        p.e.says as says, p.e.amount as amount, p.e.packages as packages
    from pieces p
    left join landed.files f on f.file_no = p.e.file_no
    left join landed.cell_places c on c.file_no = p.e.file_no and c.sheet = p.e.sheet and c.column_name = p.e.column_name
        and (c.item is null or c.item = p.e.item)
),
gathered as (
    select
        as_of, rule, troop, subject,
        list(struct_pack(file, sheet, cell, says, amount, packages) order by place) as evidence
    from placed
    group by all
)
select l.* exclude (evidence), coalesce(g.evidence, []) as evidence
from follow_up.listed l
left join gathered g using (as_of, rule, troop, subject)
