-- One row an exception of a rule and cell of one file that it rests on, as a person finds the cell.
-- Sources: exceptions.{rule}, landed.cell_places.
with pieces as (
    select subject, ask, unnest(evidence) as e, unnest(range(len(evidence))) as place
    from exceptions.{rule}
    where troop = ?
)
select
    p.subject, p.ask, p.e.sheet as sheet,
    coalesce(p.e.cell, c.letters || coalesce(c.row_no, p.e.row_no), '') as cell
from pieces p
left join landed.cell_places c on c.file_no = p.e.file_no and c.sheet = p.e.sheet and c.column_name = p.e.column_name
    and (c.item is null or c.item = p.e.item)
where p.e.file_no = ?
order by p.subject, p.place
