"""A book whose warehouse is lost or damaged: the warehouse made anew, with the figures it had.

Comes in: what landed, with the journal beside it (or what the published snapshot says of it). Goes out: a warehouse in
which all of that was taken in again, in the order and at the times it was; what was there before is kept aside.
"""

import hashlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipelines.definitions.errors import Damaged, Stop
from pipelines.landing.arrivals import Progress
from pipelines.store import engine, journal, landed_tables, migrations
from pipelines.store.book import Book
from pipelines.store.engine import Connection
from pipelines.upkeep.second_reading import take_in_again
from pipelines.workflow import publishing

SHOWN = 5  # files that are named where some are lacking


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """How many files were taken in again, how many entries came back, where the warehouse of before is kept."""

    files: int
    follow_ups: int
    kept: Path | None


def rebuild(
    book: Book, *, from_snapshot: bool = False, progress: Progress = publishing.silent,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> Rebuilt:  # fmt: skip
    """Makes the warehouse anew and publishes; raises Damaged where bytes that are needed are lacking.

    `from_snapshot`: from the rows that are published, where the bytes they came from are lost.
    """
    if book.purge_mark.exists():
        raise Stop("This book's season is over: its participants' rows are purged, and there is nothing to make anew.")
    making = book.folder / ".rebuilding.duckdb"
    with book.alone(on_wait):
        told = _told(book)
        _remove(making)
        con = migrations.open_for_writing(making, book.before, on_wait)
        try:
            if from_snapshot:
                _copy_rows(book, con)
                book.journal.unlink(missing_ok=True)  # it may tell of files whose rows are lost: they can come again
            else:
                _refuse_lacking(book, told["files"])
                take_in_again(book, con, told["files"], progress)
                for name in told.keys() - {"files"}:
                    journal.put_in(con, name, told[name])
        finally:
            con.close()
        kept = _put_in_place(book, making)
    with book.writing(on_wait) as con:
        publishing.publish(book, con, book.season(), progress)
    return Rebuilt(len(told["files"]), len(told["follow_ups"]), kept)


def _told(book: Book) -> dict[str, list[dict[str, Any]]]:
    """What the journal and the published snapshot say landed and was written down; raises Damaged."""
    of_number: dict[str, dict[int, dict[str, Any]]] = {name: {} for name in journal.TOLD}
    with suppress(Stop, engine.Fault), book.reading() as snapshot:
        there = migrations.shape(snapshot)
        for name, number in ((name, number) for name, number in journal.TOLD.items() if name in there):
            of_number[name] |= {row[number]: row for row in engine.rows(snapshot, f"from landed.{name}")}
    with suppress(Damaged):
        for name, rows in journal.read(book.journal).items():
            of_number[name] |= {row[journal.TOLD[name]]: row for row in rows}
    if not of_number["files"]:
        raise Damaged(
            f"Neither {book.journal} nor the published figures say which files landed. Bring the book back from a copy."
        )
    told = {name: [rows[number] for number in sorted(rows)] for name, rows in of_number.items()}
    for file in told["files"]:
        if isinstance(file["landed_at"], str):
            file["landed_at"] = datetime.fromisoformat(file["landed_at"])
    return told


def _refuse_lacking(book: Book, files: list[dict[str, Any]]) -> None:
    lacking = [file["name"] for file in files if not is_sound(book.landed_path(file["sha256"]), file["sha256"])]
    if lacking:
        many = f" and {len(lacking) - SHOWN} more" if len(lacking) > SHOWN else ""
        raise Damaged(
            f"{', '.join(lacking[:SHOWN])}{many}: not in {book.landed} as landed. Put them back from a copy, or say "
            "--from-snapshot to take the rows that are published; nothing was changed."
        )


def is_sound(path: Path, digest: str) -> bool:
    """Whether a landed file is there and hashes to its name."""
    try:
        with path.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest() == digest
    except OSError:
        return False


def _copy_rows(book: Book, con: Connection) -> None:
    """Every landed row of the published snapshot."""
    quoted = str(book.current_snapshot()).replace("'", "''")
    con.execute(f"attach '{quoted}' as snapshot (read_only)")
    with engine.transaction(con):
        for name in sorted(migrations.tables_of(con, "snapshot") & set(landed_tables.LANDED)):
            con.execute(f"insert into landed.{name} by name from snapshot.landed.{name}")
    con.execute("detach snapshot")


def _put_in_place(book: Book, making: Path) -> Path | None:
    """Keeps what there was aside, then puts the new warehouse in its place."""
    kept = None
    if book.warehouse_file.exists():
        book.before.mkdir(exist_ok=True)
        kept = book.before / f"{datetime.now(UTC):%Y-%m-%d %H%M%S} before a rebuild.duckdb"
        book.warehouse_file.replace(kept)
    _wal(book.warehouse_file).unlink(missing_ok=True)  # what it holds is in the journal too
    making.replace(book.warehouse_file)
    return kept


def _remove(making: Path) -> None:
    making.unlink(missing_ok=True)
    _wal(making).unlink(missing_ok=True)


def _wal(path: Path) -> Path:
    return path.with_name(f"{path.name}.wal")
