"""A book made by an older program moves on by itself, under the writer's lock.

Comes in: a warehouse file as some program left it. Goes out: a connection to it in which every landed table is as this
program wants it; the file as it was, kept aside. Raises NewerBook where a newer program has written in it.

What landed tables must be is asked of an empty warehouse made now, so a column or a table more in the contract or in
sql/1_landed needs nothing here: it is added, empty or with its default. A change that adding cannot say (a column that
goes, or means something else) gets the next FORMAT and its step in STEPS. Tables are written anew rather than altered,
since rows are put into them by the order of their columns.
"""

import os
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from pipelines.definitions.errors import NewerBook
from pipelines.store import engine, landed_tables
from pipelines.store.engine import Connection

FORMAT = 4
"""1: without landed.formats; 2: landed.places held where columns stand, not where stalls may; 3: pages told of steps,
and of their picture in other words."""


def _free_the_name_of_places(con: Connection) -> None:
    con.execute("alter table landed.places rename to cell_places")


def _say_whose_picture(con: Connection) -> None:
    """Steps of an award stand with the award now; they counted in no figure of money or packages."""
    if ("picture", "VARCHAR") in shape(con)["pages"]:
        con.execute("alter table landed.pages add column if not exists own_picture varchar")
        con.execute(
            "update landed.pages set own_picture = coalesce(own_picture, "
            "case picture when 'photo' then 'still' when 'video' then 'film' when 'none' then 'no' end)"
        )
        con.execute("alter table landed.pages drop column picture")
        con.execute("alter table landed.pages drop column steps_reached")


STEPS: dict[int, Callable[[Connection], None]] = {3: _free_the_name_of_places, 4: _say_whose_picture}
"""By the format that it leads to, what must be done to the landed tables before they are given their new columns."""

Shape = dict[str, list[tuple[str, str]]]  # of each landed table its columns and their types, in order


def shape(con: Connection) -> Shape:
    """The landed tables of a warehouse."""
    found: Shape = {}
    query = (
        "select table_name, column_name, data_type from duckdb_columns() where schema_name = 'landed' "
        "and database_name = current_database() and not internal order by table_name, column_index"
    )
    for table, column, kind in con.execute(query).fetchall():
        found.setdefault(table, []).append((column, kind))
    return found


def tables_of(con: Connection, catalog: str) -> set[str]:
    """The landed tables of another warehouse that is attached."""
    query = "select table_name from duckdb_tables() where schema_name = 'landed' and database_name = ?"
    return {row[0] for row in con.execute(query, [catalog]).fetchall()}


@cache
def _wanted() -> Shape:
    con = engine.connect()
    try:
        landed_tables.prepare_landed(con)
        return shape(con)
    finally:
        con.close()


def open_for_writing(warehouse: Path, aside: Path, tell: Callable[[str], None]) -> Connection:
    """A connection to a book's warehouse, which is made or moved on where it must be; tells where the older one is.

    `aside`: the folder in which a warehouse is kept as it was before it moved on.
    """
    con = engine.connect(warehouse)
    try:
        found = shape(con)
        if not found:
            with engine.transaction(con):
                landed_tables.prepare_landed(con)
                _note_format(con)
            return con
        before = _refuse_newer(con, found)
        if found == _wanted() and before == FORMAT:
            return con
    except BaseException:
        con.close()
        raise
    con.close()  # so that all of it is in the one file
    kept = _keep(warehouse, aside, before)
    con = engine.connect(warehouse)
    try:
        with engine.transaction(con):
            _move_on(con, before)
    except BaseException:
        con.close()
        raise
    tell(f"This book was made by an older Musterbook and has moved on; as it was it is kept in {kept}.")
    return con


def _format_of(con: Connection, found: Shape) -> int:
    if "formats" not in found:
        return 1
    return int(con.execute("select coalesce(max(format_no), 1) from landed.formats").fetchall()[0][0])


def _refuse_newer(con: Connection, found: Shape) -> int:
    """The book's format; raises NewerBook where it is above ours, or holds what this program knows nothing of."""
    format_no = _format_of(con, found)
    known = {(table, column) for table, columns in _wanted().items() for column, _kind in columns}
    foreign = {(table, column) for table, columns in found.items() for column, _kind in columns} - known
    if format_no > FORMAT or (format_no == FORMAT and foreign):
        raise NewerBook(
            "A newer Musterbook has written in this book, and this one would lose what it cannot read. Install the "
            "newer one here; nothing was changed."
        )
    return format_no


def _keep(warehouse: Path, aside: Path, before: int) -> Path:
    """Copies a closed warehouse aside, whole or not at all."""
    aside.mkdir(exist_ok=True)
    kept = aside / f"{datetime.now(UTC):%Y-%m-%d %H%M%S} format {before}.duckdb"
    making = kept.with_name(f".{kept.name}")
    for left in aside.glob(".*"):
        left.unlink(missing_ok=True)  # of one that was broken off
    shutil.copyfile(warehouse, making)
    with making.open("rb") as copied:
        os.fsync(copied.fileno())
    making.replace(kept)
    return kept


def _move_on(con: Connection, before: int) -> None:
    """Takes the steps to this format, then writes anew each table whose columns are not those wanted."""
    for number in range(before + 1, FORMAT + 1):
        if number in STEPS:
            STEPS[number](con)
    found, wanted = shape(con), _wanted()
    stale = [name for name in found if name in wanted and found[name] != wanted[name]]
    for name in stale:
        con.execute(f"create or replace temp table _before_{name} as from landed.{name}")
        con.execute(f"drop table landed.{name}")
    landed_tables.prepare_landed(con)
    for name in stale:
        con.execute(f"insert into landed.{name} by name from _before_{name}")
        con.execute(f"drop table _before_{name}")
    _note_format(con)


def _note_format(con: Connection) -> None:
    con.execute("insert into landed.formats values (?, ?)", [FORMAT, datetime.now(UTC).replace(tzinfo=None)])
