-- One row a file that nobody could read as a table and of which somebody said that it needs no answer: it stays kept,
-- and is asked about no more.
create table if not exists landed.dismissals (
    entry_no integer primary key,
    file_no integer not null,
    written_at timestamp not null,
    written_by varchar not null
)
