-- How amounts, packages and days are said in an exception's sentences, and how a piece of evidence is put down.
-- {sign} is the season's currency's.
create or replace macro said.money(amount) as
    case when amount < 0 then '−' else '' end || '{sign}'
        || format('{:,.2f}', abs(amount)::double);
create or replace macro said.packages(number) as
    format('{:,}', number::bigint) || case when abs(number) = 1 then ' package' else ' packages' end;
create or replace macro said.count(number, one, many) as
    format('{:,}', number::bigint) || ' ' || case when abs(number) = 1 then one else many end;
create or replace macro said.day(day) as strftime(day, '%-d %B');
create or replace macro said.week(week_ending) as 'the week to ' || strftime(week_ending, '%-d %B');
create or replace macro said.listed(names) as
    case when len(names) <= 1 then names[1] else array_to_string(names[:-2], ', ') || ' and ' || names[-1] end;
-- How seldom chance alone does this, in round numbers.
create or replace macro said.chance(chance) as
    case
        when chance < 0.000001 then 'less than once in a million times'
        when chance < 0.0001 then 'less than once in 10,000 times'
        when chance < 0.001 then 'less than once in 1,000 times'
        when chance < 0.01 then 'less than once in 100 times'
        else 'about once in ' || round(1 / chance)::bigint || ' times'
    end;
-- A piece of evidence: a cell (its column as the contract names it, for packages in a column for each item the item
-- too), what it says, and what it adds to what is at stake.
create or replace macro said.evidence(file_no, sheet, row_no, column_name, item, says, amount, packages) as
    struct_pack(
        file_no := file_no::integer, sheet := sheet::varchar, row_no := row_no::integer,
        column_name := column_name::varchar, item := item::varchar, cell := null::varchar, says := says::varchar,
        amount := amount::decimal(18, 2), packages := packages::integer
    );
create or replace macro said.worked_out(says, amount, packages) as
    said.evidence(null, null, null, null, null, says, amount, packages);
-- What a check found, at the cell it names.
create or replace macro said.finding(file_no, sheet, cell, says) as
    struct_pack(
        file_no := file_no::integer, sheet := sheet::varchar, row_no := null::integer, column_name := null::varchar,
        item := null::varchar, cell := nullif(cell, '')::varchar, says := says::varchar, amount := null::decimal(18, 2),
        packages := null::integer
    );
-- Whether an amount, ten or a hundred times too large, explains that a sum is over what it should come to; both ways:
-- or that it is short of it.
create or replace macro said.slipped(amount, over, both_ways) as
    amount > 0 and (over * 10 = amount * 9 or over * 100 = amount * 99
        or (both_ways and (-over = amount * 9 or -over = amount * 99)));
