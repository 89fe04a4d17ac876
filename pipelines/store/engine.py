"""The only module that imports duckdb: open a warehouse, run SQL, fetch rows and frames.

Comes in: paths, queries, bound values. Goes out: connections, rows, Arrow tables. Raises Busy or Damaged in the
operator's words.

A warehouse takes half of the memory that is free, at most MOST_MEMORY, and spills what is more into a folder beside its
file: 10,000 troops close on a small machine. MUSTERBOOK_MEMORY (such as 800MB) says another limit.
"""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from pipelines.definitions.errors import Busy, Damaged, Stop

SQL = Path(__file__).parent / "sql"

BLOCK_BYTES = 16_384  # the smallest: a book has many small tables

LARGE_BLOCK_BYTES = 262_144  # the usual, for large ones

MANY_UNITS = 50_000  # landed units from which a book's tables are large

FEW_UNITS = 20_000  # landed units up to which planning a statement costs more than running it

DEAR = (  # of the planner's steps
    "join_order", "statistics_propagation", "common_subplan", "compressed_materialization", "join_filter_pushdown",
    "column_lifetime", "build_side_probe_side",
)  # fmt: skip

WAY_OUT = "`musterbook rebuild` makes the warehouse and the figures anew from all that has landed."

AT_ONCE = 2  # relations made at the same time: most are small, and planning them is most of the work

MOST_MEMORY = 2_000_000_000  # bytes: beyond it, spilling costs little

SPILLED = ".tmp"  # what the engine adds to the name of a warehouse's file for the folder that it spills into

Connection = duckdb.DuckDBPyConnection

Fault = duckdb.Error  # whatever the engine raises: a statement that is wrong, a file that is damaged, a full disk


def connect(path: Path | None = None, *, read_only: bool = False, beside_file: Path | None = None) -> Connection:
    """A warehouse file opened, or one in memory; raises Busy or Damaged in the operator's words.

    `beside_file`: where one in memory spills beside; without it, it does not.
    """
    try:
        if path is None:
            con = duckdb.connect(":memory:")
        else:
            is_new = not path.exists()
            con = duckdb.connect(
                str(path), read_only=read_only, config={"default_block_size": str(BLOCK_BYTES)} if is_new else {}
            )
    except duckdb.Error as fault:
        if isinstance(fault, duckdb.IOException) and "lock" in str(fault).lower():
            raise Busy("Another program has the warehouse open. Close it and try again.") from fault
        raise Damaged(f"{path} cannot be opened: {first_line(fault)} {WAY_OUT}") from fault
    con.execute(f"set memory_limit = '{_memory()}'")
    if path is None:
        con.execute("set temp_directory = ?", [f"{beside_file}{SPILLED}" if beside_file else ""])
    return con


def _memory() -> str:
    """How much memory a warehouse may take."""
    if said := os.environ.get("MUSTERBOOK_MEMORY", ""):
        return said.replace("'", "")
    return f"{max(200_000_000, min(MOST_MEMORY, _free() // 2))}B"


def _free() -> int:
    """The machine's memory that is free or can be freed at once, in bytes; where it does not say, all of it."""
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
        free = next(int(line.split()[1]) * 1024 for line in lines if line.startswith("MemAvailable:"))
    except (OSError, StopIteration):
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    own = Path("/sys/fs/cgroup")  # of a container
    try:
        most, used = ((own / name).read_text(encoding="ascii") for name in ("memory.max", "memory.current"))
        return min(free, int(most) - int(used))
    except (OSError, ValueError):  # no container, or one without a limit
        return free


@contextmanager
def enough_memory() -> Iterator[None]:
    """Says in a sentence that the memory, or the disk that is spilled onto, is too small for what was asked."""
    try:
        yield
    except duckdb.OutOfMemoryException as fault:
        raise Stop(
            "The memory that is free here, and the disk that holds the book, do not suffice for a book of this size. "
            "Close other programs or make room on the disk, then try again; nothing was published."
        ) from fault


def first_line(fault: BaseException) -> str:
    """What went wrong, in one line."""
    line = str(fault).partition("\n")[0].strip()
    return line if line.endswith((".", "!", "?")) else f"{line}."


@cache
def sql(stage_folder: str, name: str) -> str:
    """The text of one SQL file."""
    return (SQL / stage_folder / f"{name}.sql").read_text(encoding="utf-8")


@lru_cache(1024)
def _read(statement: str) -> list[duckdb.Statement]:
    return duckdb.extract_statements(statement)


def run_again(con: Connection, statement: str) -> None:
    """Runs a statement that this program runs again and again: it is parsed once, which is a sixth of a small one."""
    for one in _read(statement):
        con.execute(one)


def suit(con: Connection, *, is_large: bool) -> None:
    """All cores for each statement, or one: where tables are small, handing them out costs more than it saves."""
    con.execute("reset threads" if is_large else "set threads = 1")


def plan_simply(con: Connection) -> None:
    """Of a small book: leaves out what costs more while a statement is planned than it saves while it runs."""
    leave_out = "" if _units(con) >= FEW_UNITS else ",".join(DEAR)
    con.execute("set disabled_optimizers = ?", [leave_out])


def is_large(con: Connection) -> bool:
    """Whether so much has landed that the tables are large."""
    return _units(con) >= MANY_UNITS


def _units(con: Connection) -> int:
    return int(con.execute("select count(*) from landed.units").fetchall()[0][0])


@contextmanager
def transaction(con: Connection) -> Iterator[None]:
    """All or nothing."""
    con.execute("begin")
    try:
        yield
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")


def beside(con: Connection) -> Connection:
    """Another connection to the same warehouse."""
    catalog = con.execute("select current_database()").fetchall()[0][0]
    own = con.cursor()
    own.execute(f"use {catalog}")
    return own


def rows(con: Connection, query: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
    """The rows of a query, each as a dict."""
    done = con.execute(query, list(values))
    names = [column[0] for column in done.description or []]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]


def insert(con: Connection, table: str, listed: Sequence[tuple[Any, ...]]) -> None:
    """Adds rows to a table, their values in the order of its columns; one statement however many there are."""
    if listed:
        columns = {f"c{place}": list(cells) for place, cells in enumerate(zip(*listed, strict=True))}
        con.register("_arriving", pa.table(columns))
        con.execute(f"insert into {table} select * from _arriving")
        con.unregister("_arriving")


def load(con: Connection, name: str, frame: pa.Table) -> None:
    """An Arrow table under a temporary name."""
    con.register("_arriving", frame)
    con.execute(f"create or replace temp table {name} as select * from _arriving")
    con.unregister("_arriving")
