-- One row a unit (what is held or accepted together) and table of a file. accepted_at is empty while it is held;
-- rows_read counts every row of the file that belongs to it, packages and dollars are what these rows state.
create table if not exists landed.units (
    unit_no integer primary key,
    file_no integer not null,
    table_name varchar not null,
    unit varchar not null,
    troop varchar,
    week_ending date,
    rows_read integer not null,
    packages bigint not null,
    dollars decimal(18, 2) not null,
    accepted_at timestamp
)
