"""The landed tables: what is kept of everything that came in, and copies of it that others compute from.

Comes in: a warehouse. Goes out: its landed tables made; a copy in memory; a copy written to a file of its own.
"""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from pipelines.definitions.columns import SQL_TYPES
from pipelines.definitions.contract import TABLES
from pipelines.store import frozen
from pipelines.store.engine import (
    AT_ONCE,
    BLOCK_BYTES,
    LARGE_BLOCK_BYTES,
    SQL,
    Connection,
    beside,
    connect,
    transaction,
)

LANDED = (
    "files",
    "units",
    "findings",
    "cell_places",
    "follow_ups",
    "agreements",
    "dismissals",
    *TABLES,
)  # what is kept of everything that came in


def prepare_landed(con: Connection) -> None:
    """Makes the landed tables of an empty book: files, units, findings, places, one for each of the contract."""
    con.execute("create schema if not exists landed")
    for path in sorted((SQL / "1_landed").glob("*.sql")):
        con.execute(path.read_text(encoding="utf-8"))
    for table in TABLES.values():
        columns = ", ".join(f'"{column.name}" {SQL_TYPES[column.kind]}' for column in table.columns)
        con.execute(
            f"create table if not exists landed.{table.name} "
            f"(unit_no integer, file_no integer, sheet varchar, row_no integer, {columns})"
        )


def naming_troops(table: str) -> list[str]:
    """The columns of a landed table of the contract that hold a troop's code."""
    columns = TABLES[table].columns if table in TABLES else ()
    return [one.name for one in columns if one.kind in ("troop", "other_troop")]


def _naming(table: str) -> str:
    """Which rows of a landed table are needed where some troops are computed apart; of cells nothing is computed."""
    if table == "cell_places":
        return "false"
    if table == "units":
        others = ", ".join(f"'{name}'" for name in TABLES if len(naming_troops(name)) > 1)
        return f"troop is null or list_contains($troops, troop) or table_name in ({others})"
    named = [f"list_contains($troops, {column})" for column in naming_troops(table)]
    return " or ".join(["troop is null", *named]) if named else "true"


@contextmanager
def apart(con: Connection, troops: Sequence[str] | None = None, path: Path | None = None) -> Iterator[Connection]:
    """A warehouse that holds what has landed, beside the one that is open: in memory, or a new file.

    `troops`: of the tables that name troops only the rows that name one of these, or none.
    """
    home = con.execute("select current_database()").fetchall()[0][0]
    quoted = str(path).replace("'", "''") if path else ":memory:"
    con.execute(f"attach '{quoted}' as making" + (f" (block_size {LARGE_BLOCK_BYTES})" if path else ""))
    try:
        memory = con.cursor()
        memory.execute("use making")
        memory.execute("create schema landed")
        for name in LANDED:
            which = "true" if troops is None else _naming(name)
            values = {"troops": troops} if "$troops" in which else {}
            memory.execute(f"create table landed.{name} as from {home}.landed.{name} where {which}", values)
        _take_along(memory, home, "table")
        yield memory
        memory.close()
    finally:
        con.execute("detach making")


def write_out(memory: Connection, path: Path) -> None:
    """Writes a warehouse made apart into a file of its own."""
    quoted = str(path).replace("'", "''")
    memory.execute(f"attach '{quoted}' as snapshot (block_size {BLOCK_BYTES})")
    memory.execute("copy from database making to snapshot (schema)")
    listed = memory.execute(
        "select schema_name || '.' || table_name from duckdb_tables() where database_name = 'making' "
        "and estimated_size > 0 order by estimated_size desc"
    ).fetchall()

    def fill(own: Connection, names: list[tuple[str]]) -> None:
        with own, transaction(own):
            for (name,) in names:
                own.execute(f"insert into snapshot.{name} from making.{name}")

    with ThreadPoolExecutor(AT_ONCE) as threads:
        shares = [(beside(memory), listed[first::AT_ONCE]) for first in range(AT_ONCE)]
        list(threads.map(fill, *zip(*shares, strict=True)))
    memory.execute("detach snapshot")


def look_back(snapshot: Path) -> Connection:
    """A warehouse in memory whose landed tables are those of a snapshot, for any day and known-on time."""
    con = connect(beside_file=snapshot)
    quoted = str(snapshot).replace("'", "''")
    con.execute(f"attach '{quoted}' as snapshot (read_only)")
    con.execute("create schema landed")
    for name in LANDED:
        con.execute(f"create view landed.{name} as from snapshot.landed.{name}")
    _take_along(con, "snapshot", "view")
    return con


def _take_along(con: Connection, source: str, made: str) -> None:
    """What is kept of closed troops, beside what landed."""
    for place, name in enumerate(frozen.tables(con, source)):
        if not place:
            con.execute("create schema frozen")
        con.execute(f"create {made} frozen.{name} as from {source}.frozen.{name}")
