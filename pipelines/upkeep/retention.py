"""What is kept no longer than needed: participants' rows and landed files go, the totals stay.

Comes in: a book whose keeping time has ended. Goes out: the same book without participants, leaders' names and files.
The figures of troops and of the area stay as they were, and a mark says what went, when, and what every table that
stayed hashes to. Nothing can be taken in any more: a new computation would find nothing to compute from.

Warehouses are written anew, not emptied: deleted rows may linger in a file. That a purge was begun is written down
first; from then on the book takes nothing in, and whatever command comes next finishes it.

Afterwards the book is closed, because a computation from what is left would give other figures. `verify` then says what
was purged and proves only that the totals are as they were left (purged.json).
"""

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path

from pipelines.accounts import account_store
from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season
from pipelines.store import engine, landed_tables, relations, season_tables
from pipelines.store.book import Book, now, write_whole
from pipelines.store.engine import Connection
from pipelines.workflow.closing import unfinished

# Tables that stay whole: figures of troops and of the area. Every other table stays without rows.
KEPT_SCHEMAS = ("season", "chosen")
KEPT = frozenset(
    f"measures.{name}"
    for name in (
        "area bank_balances books charges compared comparisons dues item_points item_totals items last_season pace "
        "points standing steps submissions"
    ).split()
) | {"facts.submitted", "landed.formats"}
THINNED = {  # tables that stay with some columns emptied: names, addresses, what people called their files
    "landed.files": {"name": "'removed'", "sender": "''"},
    "facts.troops": {"leader": "null", "email": "null", "phone": "null", "account": "null"},
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
    """Removes participants' rows, landed files, papers and drafts; raises Stop before the time, or a second time.

    Raises Stop too where the season is not closed or a debt is open, unless `early`.
    """
    until = keep_until(book)
    if today <= until and not early:
        raise Stop(f"Participants' rows are kept until {until.isoformat()}, as season.toml says under [care].")
    if not book.has_snapshot():
        raise Stop("Nothing is published: there are no totals to keep. Remove the folder instead.")
    if not early and (open_matters := unfinished(book)):
        raise Stop(" ".join([*open_matters, "Close and settle first, or say --early: what is lost then stays lost."]))
    with book.writing(on_wait) as con:
        rows = sum(_count(con, f"landed.{name}") for name in landed_tables.LANDED if name != "files")
        files = _count(con, "landed.files where what <> 'season'")
        write_whole(book.purge_begun, json.dumps({"by": by, "rows": rows, "files": files}))
    return finish(book, on_wait)


def finish(book: Book, on_wait: Callable[[str], None] = lambda _said: None) -> Purged:
    """Does what a purge that was begun has still to do; each step may be taken twice."""
    with book.alone(on_wait):
        begun = json.loads(book.purge_begun.read_text(encoding="utf-8"))
        season = book.season()
        snapshot = book.publish(lambda path: _write_anew(season, book.current_snapshot(), path))
        with closing(engine.connect(snapshot, read_only=True)) as stayed:
            tables = {name: content_of(stayed, name) for name in sorted(_tables(stayed)) if is_kept(name)}
            seasons = _seasons(stayed)
        if book.warehouse_file.exists():
            _thin_warehouse(book, season)
        _remove_files(book, seasons, keep=snapshot)
        _forget_people(book, begun["by"])
        done = Purged(now().isoformat(timespec="seconds") + "Z", begun["by"], begun["rows"], begun["files"], tables)
        write_whole(book.purge_mark, json.dumps(asdict(done), indent=1) + "\n")
        book.purge_begun.unlink()
    return done


def _thin_warehouse(book: Book, season: Season) -> None:
    thin = book.warehouse_file.with_name(".thin.duckdb")
    for left in book.folder.glob(".thin.duckdb*"):
        left.unlink()
    engine.connect(book.warehouse_file).close()  # so that all of it is in the one file
    _write_anew(season, book.warehouse_file, thin)
    thin.replace(book.warehouse_file)


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


def _remove_files(book: Book, seasons: set[str], keep: Path) -> None:
    """Every file of the book but those that stay."""
    stays = _own_files(book, seasons) | {keep, keep.with_suffix(".reading")}
    for path in sorted(book.folder.rglob("*"), reverse=True):
        if path.is_dir() and not path.is_symlink():
            if path.parent != book.folder and not any(path.iterdir()):
                path.rmdir()
        elif path not in stays:
            path.unlink()


def _own_files(book: Book, seasons: set[str]) -> set[Path]:
    """The files that a purged book still has, but for its published state."""
    named = ("season.toml", "warehouse.duckdb", ".lock", ".lock-holder", ".sending-lock", account_store.NAME)
    beside = [f"{account_store.NAME}{end}" for end in ("-wal", "-shm", "-journal")]
    stays = {book.folder / name for name in (*named, *beside)} | {book.mail, book.purge_mark, book.purge_begun}
    return stays | {book.published / "current"} | {book.landed_path(digest) for digest in seasons}


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
    """What of a purged book is not as it was left, in words: every file and every table is gone through."""
    with book.holding() as snapshot:
        with closing(engine.connect(snapshot, read_only=True)) as con:
            there = set(_tables(con))
            for name, content in done.tables.items():
                if name not in there or content_of(con, name) != content:
                    yield f"{name}: not what it was when the participants' rows were purged."
            yield from _left_in(con, "the published state")
            seasons = _seasons(con)
        stays = _own_files(book, seasons) | {snapshot, snapshot.with_suffix(".reading")}
    if book.warehouse_file.exists():
        with closing(engine.connect(book.warehouse_file, read_only=True)) as con:
            yield from _left_in(con, "the warehouse")
    for path in sorted(book.folder.rglob("*")):
        if not path.is_dir() and path not in stays:
            yield f"{path.relative_to(book.folder)}: a file that should have been purged."
    for path in sorted(book.landed_path(digest) for digest in seasons):
        if path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() != path.name:
            yield f"{path.relative_to(book.folder)}: not the season.toml that landed."
    yield from _people_left(book)


def _left_in(con: Connection, where: str) -> Iterator[str]:
    """Rows and columns of a purged warehouse that should be empty."""
    for name in _tables(con):
        if name in THINNED:
            columns = {row[0] for row in con.execute(f"describe {name}").fetchall()}
            for column, value in THINNED[name].items():
                if column in columns and _count(con, f"{name} where {column} is distinct from {value}"):
                    yield f"{name}, {column}: words that should have been purged from {where}."
        elif not is_kept(name) and (many := _count(con, name)):
            yield f"{name}: {many:,} rows that should have been purged from {where}."


def _people_left(book: Book) -> Iterator[str]:
    """What access.sqlite should not hold any more."""
    if not (book.folder / account_store.NAME).is_file():
        return
    store = account_store.Store(book.folder)
    for query, what in (
        ("select 1 from drafts", "drafts"),
        ("select 1 from people where withdrawn_at is not null and email is not null", "addresses"),
        ("select 1 from people where role = 'leader' and withdrawn_at is null", "leaders' accounts"),
    ):
        if store.rows(query):
            yield f"{account_store.NAME}: {what} that should have been purged."


def _seasons(con: Connection) -> set[str]:
    """The SHA-256 of every season.toml that landed."""
    return {row[0] for row in con.execute("select sha256 from landed.files where what = 'season'").fetchall()}
