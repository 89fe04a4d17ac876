-- One row a thing found in a file. unit is empty where the whole file is meant; ended_at: when it was no longer found.
create table if not exists landed.findings (
    file_no integer not null,
    table_name varchar not null,
    unit varchar not null,
    sheet varchar not null,
    cell varchar not null,
    found varchar not null,
    expected varchar not null,
    how varchar not null,
    is_note boolean not null,
    found_at timestamp not null,
    ended_at timestamp
)
