-- One row a time that the book came to be as a program wants it: when it was made, and whenever it moved on. format_no,
-- of the steps that adding columns and tables cannot say: see migrations.
create table if not exists landed.formats (
    format_no integer not null,
    since timestamp not null
)
