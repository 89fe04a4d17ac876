"""The rows of closed troops as they were when each closed: kept beside what landed, read in place of computed ones.

Comes in: a warehouse in which every relation was computed as it was known when troops closed. Goes out: the schema
`frozen`, a table for each relation that tells of troops, its rows led by the number of the close; the select of a
relation with those rows in place of what it would compute now.

So nothing moves a closed troop's figures: no file of its own, no word of another troop, no change of the season's
rules; and what is added up from them agrees with them. A day after those that were kept has the last of them. The rows
are worked out of what landed, so that they can be lost and made anew, and are when the program's relations change; that
they are still what was closed is proved by the close's own digest.
"""

from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from typing import NamedTuple

from pipelines.store.engine import Connection, rows, transaction

STAGES = ("accepted", "facts", "measures", "ledger")
AND_TOO = frozenset({"follow_up.closing_needed", "follow_up.found"})
GOES_ON = frozenset(
    {
        "accepted.units", "accepted.agreements", "accepted.closings", "accepted.follow_ups", "measures.versions",
        "measures.sources", "measures.submissions", "measures.plan",
    }
)  # fmt: skip
"""What came in, what was written down and what is planned is told after a close too."""

CLOSED = "exists (from chosen.closed_days d where d.troop = r.troop and d.as_of = r.as_of)"


class Kept(NamedTuple):
    """Whether a relation whose rows are kept is of days, and whether each of its rows has the week's number."""

    is_of_days: bool
    has_week_no: bool


def to_keep(con: Connection, mark: str) -> Iterator[tuple[datetime, list[tuple[int, str]]]]:
    """The closes whose rows are not kept as a program of this mark makes them: a known-on time, its numbers and troops.

    What a program of another mark kept is let go of first.
    """
    catalog = con.execute("select current_database()").fetchall()[0][0]
    there = con.execute(
        "select 1 from duckdb_tables() where schema_name = 'frozen' and table_name = 'days' and database_name = ?",
        [catalog],
    ).fetchall()
    if there and con.execute("select 1 from frozen.days where mark <> ? limit 1", [mark]).fetchall():
        con.execute("drop schema frozen cascade")
        there = []
    but = "and entry_no not in (select close_no from frozen.days)" if there else ""
    lacking = rows(
        con,
        f"select entry_no, troop, known_on from landed.agreements where kind = 'close' {but} "
        "order by known_on, entry_no",
    )
    for known_on, closed in groupby(lacking, key=lambda row: row["known_on"]):
        yield known_on, [(row["entry_no"], row["troop"]) for row in closed]


def keep(memory: Connection, home: str, closed: list[tuple[int, str]], mark: str) -> None:
    """Keeps the rows of closed troops from a computed warehouse in the one named `home`: all of them, or none."""
    values = ", ".join("(?, ?)" for _one in closed)
    listed = [value for one in closed for value in one]
    with transaction(memory):
        memory.execute(f"create schema if not exists {home}.frozen")
        for name in _with_troops(memory):
            table = f"{home}.frozen.{_table(name)}"
            empty = f"select 0::integer as close_no, * from {name} limit 0"
            memory.execute(f"create table if not exists {table} as {empty}")
            memory.execute(
                f"insert into {table} by name select c.close_no, r.* from {name} r "
                f"join (values {values}) c (close_no, troop) on c.troop = r.troop",
                listed,
            )
        days = f"{home}.frozen.days"
        memory.execute(f"create table if not exists {days} (close_no integer, as_of date, mark varchar)")
        memory.execute(
            f"insert into {days} select c.close_no, d.as_of, ? from chosen.days d "
            f"cross join (values {values}) c (close_no, troop)",
            [mark, *listed],
        )


def tables(con: Connection, catalog: str) -> list[str]:
    """The tables of what is kept in a warehouse."""
    query = "select table_name from duckdb_tables() where schema_name = 'frozen' and database_name = ?"
    return [row[0] for row in con.execute(query, [catalog]).fetchall()]


def kept(con: Connection) -> dict[str, Kept]:
    """The relations of which rows are kept here, by full name."""
    found = con.execute(
        "select table_name, bool_or(column_name = 'as_of'), bool_or(column_name = 'week_no') from duckdb_columns() "
        "where schema_name = 'frozen' and table_name <> 'days' and database_name = current_database() group by all"
    ).fetchall()
    return {name.replace("__", ".", 1): Kept(*told) for name, *told in found}


def tell_days(con: Connection) -> None:
    """chosen.closed_days: of each troop that is closed the days asked for, and the kept day that each is read from."""
    con.execute(
        """
        create or replace table chosen.closed_days as
        with last as (
            select close_no, max(as_of) as as_of from frozen.days group by all
        )
        select c.entry_no as close_no, c.troop, d.as_of, d.week_no, least(d.as_of, l.as_of) as kept_as_of
        from accepted.closings c
        cross join chosen.days d
        join last l on l.close_no = c.entry_no
        join frozen.days f on f.close_no = c.entry_no and f.as_of = least(d.as_of, l.as_of)
        """
    )


def in_place(name: str, select: str, one: Kept) -> str:
    """The select of a relation with the rows kept of closed troops in place of those it would compute."""
    if not one.is_of_days:
        return (
            f"from (\n{select}\n) r where r.troop is null or r.troop not in (select troop from chosen.closed_days)\n"
            f"union all by name\nselect f.* exclude (close_no) from frozen.{_table(name)} f "
            "where f.close_no in (select close_no from chosen.closed_days)"
        )
    return f"from (\n{select}\n) r where not {CLOSED}\nunion all by name\n{_kept_of_days(name, one)}"


def put_in_place(con: Connection, name: str, one: Kept) -> None:
    """Puts the rows kept of closed troops into a table of days, in place of those that are there."""
    con.execute(f"delete from {name} r where {CLOSED}")
    con.execute(f"insert into {name} by name {_kept_of_days(name, one)}")


def _kept_of_days(name: str, one: Kept) -> str:
    week_no = ", d.week_no as week_no" if one.has_week_no else ""
    return (
        f"select f.* exclude (close_no) replace (d.as_of as as_of{week_no}) from frozen.{_table(name)} f "
        "join chosen.closed_days d on d.close_no = f.close_no and d.kept_as_of = f.as_of"
    )


def _with_troops(con: Connection) -> list[str]:
    found = con.execute(
        "select schema_name || '.' || table_name from duckdb_columns() where column_name = 'troop' "
        "and database_name = current_database() order by 1"
    ).fetchall()
    names = [row[0] for row in found if row[0] in AND_TOO or row[0].partition(".")[0] in STAGES]
    return [name for name in names if name not in GOES_ON]


def _table(name: str) -> str:
    return name.replace(".", "__")
