"""What is kept no longer than needed: participants' rows and landed files go, the totals stay.

Comes in: a book whose keeping time has ended. Goes out: the same book without participants, leaders' names and files.
The figures of troops and of the area stay as they were, and a mark says what went, when, and what every table that
stayed hashes to. Nothing can be taken in any more: a new computation would find nothing to compute from.

Warehouses are written anew, not emptied: deleted rows may linger in a file.

Afterwards the book is closed, because a computation from what is left would give other figures. `verify` then says what
was purged and proves only that the totals are as they were left (purged.json).
"""

import hashlib
import json
import shutil
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path

from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season
from pipelines.store import engine, landed_tables, relations, season_tables
from pipelines.store.book import Book, now
from pipelines.store.engine import Connection

# Tables that stay whole: figures of troops and of the area. Every other table stays without rows.
KEPT_SCHEMAS = ("season", "chosen")
KEPT = frozenset(
    f"measures.{name}"
    for name in (
        "area bank_balances books charges compared comparisons dues item_points item_totals items last_season pace "
        "points standing steps submissions"
    ).split()
) | {"facts.submitted"}
THINNED = {  # tables that stay with some columns emptied: names, addresses, what people called their files
    "landed.files": {"name": "'removed'", "sender": "''"},
    "facts.troops": {"leader": "null", "email": "null", "phone": "null"},
}


@dataclass(frozen=True, slots=True)
class Purged:
    """What a purge did: when, by whom, how much went, and the SHA-256 of each table that stayed."""

    purged_at: str  # ISO 8601, UTC
    by: str
    rows: int
    files: int
    tables: dict[str, str]


def keep_until(book: Book) -> date:
    """The last day on which participants' rows are kept."""
    season = book.season()
    return season.season.last_day + timedelta(days=season.care.keep_days)


def purged(book: Book) -> Purged | None:
    """What was purged; None where nothing was."""
    with suppress(FileNotFoundError):
        return Purged(**json.loads(book.purge_mark.read_text(encoding="utf-8")))
    return None


def purge(
    book: Book, by: str, today: date, *, early: bool = False, on_wait: Callable[[str], None] = lambda _said: None
) -> Purged:
    """Removes participants' rows, landed files, papers and drafts; raises Stop before the time, or a second time."""
    until = keep_until(book)
    if today <= until and not early:
        raise Stop(f"Participants' rows are kept until {until.isoformat()}, as season.toml says under [care].")
    if not book.has_snapshot():
        raise Stop("Nothing is published: there are no totals to keep. Remove the folder instead.")
    with book.writing(on_wait) as con:
        rows = sum(_count(con, f"landed.{name}") for name in landed_tables.LANDED if name != "files")
        landed = con.execute("select sha256 from landed.files where what <> 'season'").fetchall()
        con.execute("checkpoint")
        snapshot = book.publish(lambda path: _write_anew(book.season(), book.current_snapshot(), path))
        with closing(engine.connect(snapshot, read_only=True)) as stayed:
            tables = {name: content_of(stayed, name) for name in sorted(_tables(stayed)) if is_kept(name)}
        done = Purged(now().isoformat(timespec="seconds") + "Z", by, rows, len(landed), tables)
        book.purge_mark.write_text(json.dumps(asdict(done), indent=1) + "\n", encoding="utf-8")
        _remove_files(book, {row[0] for row in landed}, keep=snapshot)
    with book.writing(on_wait, purging=True) as con:
        con.execute("checkpoint")
    thin = book.warehouse_file.with_name(".thin.duckdb")
    thin.unlink(missing_ok=True)
    _write_anew(book.season(), book.warehouse_file, thin)
    thin.replace(book.warehouse_file)
    _forget_people(book, by)
    return done


def _write_anew(season: Season, source: Path, target: Path) -> None:
    """A warehouse written anew from another: tables that stay, the others without rows, views as they were."""
    quoted = str(source).replace("'", "''")
    with closing(engine.connect(target)) as con:
        con.execute(f"attach '{quoted}' as old (read_only)")
        for name in _tables(con, "old"):
            con.execute(f"create schema if not exists {name.partition('.')[0]}")
            con.execute(f"create table {name} as {_select(con, name)}")
        views = con.execute(
            "select schema_name || '.' || view_name, sql from duckdb_views() "
            "where database_name = 'old' and not internal"
        ).fetchall()
        season_tables.tell_words(con, season)
        order = [name for name, _select in relations.ordered_relations()]
        for name, text in sorted(views, key=lambda view: order.index(view[0])):
            con.execute(f"create schema if not exists {name.partition('.')[0]}")
            con.execute(text)
        con.execute("detach old")


def _select(con: Connection, name: str) -> str:
    if name in THINNED:
        columns = {row[0] for row in con.execute(f"describe old.{name}").fetchall()}
        replaced = ", ".join(f"{value} as {column}" for column, value in THINNED[name].items() if column in columns)
        return f"select * replace ({replaced}) from old.{name}"
    return f"from old.{name}" if is_kept(name) else f"from old.{name} limit 0"


def is_kept(name: str) -> bool:
    """Whether a table keeps its rows."""
    return name in KEPT or name.partition(".")[0] in KEPT_SCHEMAS


def _tables(con: Connection, database: str | None = None) -> list[str]:
    query = "select schema_name || '.' || table_name from duckdb_tables() where not internal and not temporary"
    if database is None:
        return [row[0] for row in con.execute(f"{query} order by 1").fetchall()]
    return [row[0] for row in con.execute(f"{query} and database_name = ? order by 1", [database]).fetchall()]


def _count(con: Connection, table: str) -> int:
    return int(con.execute(f"select count(*) from {table}").fetchall()[0][0])


def content_of(con: Connection, table: str) -> str:
    """The SHA-256 of a table's rows, whatever their order."""
    lines = con.execute(f"select t::varchar as line from {table} t order by line").fetchall()
    return hashlib.sha256("\n".join(row[0] for row in lines).encode()).hexdigest()


def _remove_files(book: Book, landed: set[str], keep: Path) -> None:
    """The bytes of landed files, mappings, older published states, and papers."""
    for digest in landed:
        book.landed_path(digest).unlink(missing_ok=True)
    for path in book.mappings.glob("*.toml"):  # they may name people: `"Ann B" = "0417-07"`
        path.unlink(missing_ok=True)
    for path in book.published.glob("*.duckdb*"):
        if path != keep:
            path.unlink(missing_ok=True)
    shutil.rmtree(book.out, ignore_errors=True)


def _forget_people(book: Book, by: str) -> None:
    """Drafts and sign-ins go, and leaders' accounts end; the log of who did what stays."""
    access = Access(book.folder)
    for person in access.people():
        if person.role == "leader" and not person.withdrawn:
            access.withdraw(person.name, by=by)
    with access.store.writing() as con:
        con.execute("delete from drafts")
        con.execute("update people set email = null where withdrawn_at is not null")
    access.store.note(by, "participants' rows purged")
    access.store.connection().execute("vacuum")
    access.store.connection().execute("pragma wal_checkpoint(truncate)")


def differences(book: Book, done: Purged) -> Iterator[str]:
    """What of a purged book is not as it was left, in words."""
    with book.reading() as con:
        there = set(_tables(con))
        for name, content in done.tables.items():
            if name not in there or content_of(con, name) != content:
                yield f"{name}: not what it was when the participants' rows were purged."
        for name in sorted(there - done.tables.keys() - THINNED.keys()):
            if many := _count(con, name):
                yield f"{name}: {many:,} rows that should have been purged."
    for path in book.landed.glob("*/*"):
        if path.is_file() and path.name not in _season_files(book):
            yield f"{path.relative_to(book.folder)}: a file that should have been purged."


def _season_files(book: Book) -> set[str]:
    with book.reading() as con:
        return {row[0] for row in con.execute("select sha256 from landed.files where what = 'season'").fetchall()}
