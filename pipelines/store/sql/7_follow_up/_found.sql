-- One row an asked day, rule, troop and subject: what every rule of 5_exceptions found. Each adds its own rows.
create or replace table follow_up.found (
    rule varchar, as_of date, troop varchar, subject varchar, severity varchar, about varchar, at_stake decimal(18, 2),
    packages integer, met decimal(18, 2), what varchar, next_step varchar, ask varchar,
    evidence struct(
        file_no integer, sheet varchar, row_no integer, column_name varchar, item varchar, cell varchar, says varchar,
        amount decimal(18, 2), packages integer
    )[]
)
