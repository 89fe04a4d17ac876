-- How amounts, packages and days are said in an exception's sentences, and how a piece of evidence is put down.
create or replace macro said.money(amount) as
    case when amount < 0 then '−' else '' end || (select sign from season.rules)
        || format('{:,.2f}', abs(amount)::double);
create or replace macro said.packages(number) as
    format('{:,}', number::bigint) || case when abs(number) = 1 then ' package' else ' packages' end;
create or replace macro said.day(day) as strftime(day, '%-d %B');
create or replace macro said.days(number) as number || case when number = 1 then ' day' else ' days' end;
create or replace macro said.weeks(number) as number || case when number = 1 then ' week' else ' weeks' end;
create or replace macro said.family(participant) as
    case when participant = 'troop' then 'the troop''s own page' else 'the family of ' || participant end;
-- column_name: the cell's column in the contract; item: where packages stand in a column for each item.
create or replace macro said.evidence(file_no, sheet, row_no, column_name, item, says, amount, packages) as
    struct_pack(
        file_no := file_no::integer, sheet := sheet::varchar, row_no := row_no::integer,
        column_name := column_name::varchar, item := item::varchar, says := says::varchar,
        amount := amount::decimal(12, 2), packages := packages::integer
    );
create or replace macro said.worked_out(says, amount, packages) as
    said.evidence(null, null, null, null, null, says, amount, packages);
