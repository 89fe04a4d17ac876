-- One row a column of a table in a file, as it was read last: the letters under which a spreadsheet shows it. item: in a
-- troop's workbook packages stand in a column for each item. row_no: where a cell stands alone, as on a cover; else the
-- row's own. Written at every reading, so that a figure can name its cells.
create table if not exists landed.cell_places (
    file_no integer not null,
    table_name varchar not null,
    sheet varchar not null,
    column_name varchar not null,
    letters varchar not null,
    item varchar,
    row_no integer
)
