"""The book proved: that nothing that came in was lost or altered, and that every figure follows from it.

Comes in: a book. Goes out: a Proof for each thing that was gone through, with what was found wrong. What landed is
taken in a second time, from its bytes alone, and set beside what is stored; every figure is computed a second time, and
posted as double entry, and set beside what is published.

Landed files are taken in again in the order and at the times they landed, into a warehouse in memory, by the same code
as the first time.
"""

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipelines.accounts import account_store
from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import Damaged
from pipelines.figures import double_entry
from pipelines.figures.computing import compute
from pipelines.landing.arrivals import Progress
from pipelines.store import engine, journal, landed_tables
from pipelines.store.book import Book
from pipelines.store.engine import Connection
from pipelines.upkeep import retention
from pipelines.upkeep.second_reading import take_in_again
from pipelines.workflow import publishing

FIGURES = ("accepted", "facts", "measures", "exceptions", "follow_up")  # stages whose tables are published

MEND = "Take the same file in again, or put it back from a backup."


@dataclass(frozen=True, slots=True)
class Proof:
    """One thing gone through: what it is, what was proved in words, what was found wrong, what is told besides."""

    name: str
    proved: str
    found: tuple[str, ...] = ()
    told: tuple[str, ...] = ()


def prove(
    book: Book, *, progress: Progress = publishing.silent, on_wait: Callable[[str], None] = lambda _said: None
) -> list[Proof]:
    """Goes through the whole book while nobody else writes in it; raises NotABook or Busy, never for what it finds."""
    if done := retention.purged(book):
        return [_purged(book, done)]
    proofs: list[Proof] = []
    try:
        with book.writing(on_wait) as con:
            listed = engine.rows(con, "select * from landed.files order by landed_at, file_no")
            sound, proof = _bytes(book, listed, progress)
            proofs += [proof, _rows(book, con, listed, sound, progress)]
            proofs += _of_published(book, con, progress)
    except (Damaged, engine.Fault) as fault:
        if not proofs:
            proofs.append(_bytes(book, journal.read(book.journal)["files"], progress)[1])
        proofs.append(Proof("Warehouse", "It cannot be gone through.", (_said_of(fault),)))
    return [*proofs, _access(book)]


def _of_published(book: Book, con: Connection, progress: Progress) -> list[Proof]:
    if not book.has_snapshot():
        nothing = "Nothing is published yet. `musterbook ingest` takes files in and publishes."
        return [Proof("Published", "There are no figures to go through.", (nothing,))]
    try:
        with book.holding() as snapshot:
            proofs = [_published(con, snapshot)]
            fresh = landed_tables.look_back(snapshot)
            try:
                return proofs + _figures(book, fresh, progress)
            finally:
                fresh.close()
    except (Damaged, engine.Fault) as fault:
        return [Proof("Published", "The published figures cannot be gone through.", (_said_of(fault),))]


def _said_of(fault: Exception) -> str:
    return str(fault) if isinstance(fault, Damaged) else f"{engine.first_line(fault)} {engine.WAY_OUT}"


def _access(book: Book) -> Proof:
    """Whether the file that says who may come in is whole."""
    fault = account_store.fault_of(book.folder)
    if fault:
        return Proof("Who may come in", "It cannot be gone through.", (fault,))
    return Proof("Who may come in", "access.sqlite is whole, or there is none.")


def _purged(book: Book, done: retention.Purged) -> Proof:
    """Of a book whose participants' rows are gone: whether the totals are as they were left; more cannot be proved."""
    proved = (
        f"{done.rows:,} rows of {done.files:,} files were purged at {done.purged_at} by {done.by}: what the figures "
        "rest on is gone, so they cannot be computed again. "
        f"{len(done.tables)} tables of totals are as they were left then."
    )
    try:
        return Proof("Totals after the purge", proved, tuple(retention.differences(book, done)))
    except (Damaged, engine.Fault) as fault:
        return Proof("Totals after the purge", "They cannot be gone through.", (engine.first_line(fault),))


def _bytes(book: Book, listed: Sequence[dict[str, Any]], progress: Progress) -> tuple[set[int], Proof]:
    """Whether each landed file's bytes are there and hash to their name; and the numbers of those that are sound."""
    sound: set[int] = set()
    found: list[str] = []
    verdicts: dict[str, str] = {}
    for number, file in enumerate(listed, 1):
        progress("Hashing", number, len(listed))
        digest = file["sha256"]
        if digest not in verdicts:
            verdicts[digest] = _fault_of(book.landed_path(digest), digest)
        if verdicts[digest]:
            found.append(f"{_named(file)}: {verdicts[digest]}")
        else:
            sound.add(file["file_no"])
    here = {path for path in book.landed.glob("*/*") if path.is_file()}
    orphans = sorted(here - {book.landed_path(digest) for digest in verdicts})
    told = [f"{path.relative_to(book.folder)} is listed nowhere: no figure rests on it." for path in orphans]
    size = sum(file["size_bytes"] for file in listed)
    proved = f"{len(sound):,} of {len(listed):,} landed files, {size:,} bytes in all: each hashes to its name."
    return sound, Proof("Landed files", proved, tuple(found), tuple(told))


def _fault_of(path: Path, digest: str) -> str:
    try:
        with path.open("rb") as opened:
            is_sound = hashlib.file_digest(opened, "sha256").hexdigest() == digest
    except OSError:
        return f"its bytes are not in landed/. {MEND}"
    return "" if is_sound else f"its bytes are not those that landed. {MEND}"


def _named(file: dict[str, Any]) -> str:
    return f"{file['name']} (file {file['file_no']})"


def _rows(book: Book, con: Connection, listed: Sequence[dict[str, Any]], sound: set[int], progress: Progress) -> Proof:
    """Whether what is stored of each file is what its bytes say when they are taken in again."""
    if len(sound) < len(listed):
        return Proof("Rows", "Not gone through: files that are not as they landed must be put back first.")
    again = engine.connect(beside_file=book.folder / ".verifying")
    try:
        landed_tables.prepare_landed(again)
        take_in_again(book, again, listed, progress)
        names = {file["file_no"]: _named(file) for file in listed}
        found = [f"{names[no]}: {fault}" for no, fault in _differences(con, again)]
        done = again.execute(
            "select count(distinct file_no), coalesce(sum(rows_read) filter (accepted_at is not null), 0)::bigint, "
            "coalesce(sum(rows_read) filter (accepted_at is null), 0)::bigint from landed.units"
        ).fetchall()
    finally:
        again.close()
    files, accepted, held = done[0]
    proved = (
        f"{accepted + held:,} rows of {files:,} files read again from their bytes: {accepted:,} accepted, each as it "
        f"is stored, and {held:,} held."
    )
    return Proof("Rows", proved, tuple(found))


def _differences(con: Connection, again: Connection) -> Iterator[tuple[int, str]]:
    """File by file, where stored units and rows differ from those of the second reading."""
    units = "select * exclude (unit_no) from landed.units"
    for no, gone, new in _compared(con, again, units):
        yield no, f"the book has {gone:,} units otherwise than it reads now ({new:,})."
    for name, table in TABLES.items():
        columns = ", ".join(f'r."{column}"' for column in table.names)
        select = (
            f"select r.file_no, u.table_name, u.unit, u.accepted_at, r.sheet, r.row_no, {columns} "
            f"from landed.{name} r left join landed.units u on u.unit_no = r.unit_no and u.file_no = r.file_no"
        )
        for no, gone, new in _compared(con, again, select):
            yield no, f"{gone:,} rows of {name} are stored that its bytes do not hold, {new:,} that they hold are not."


def _compared(con: Connection, again: Connection, select: str) -> list[tuple[int, int, int]]:
    """File numbers with how many rows of a query only the one and only the other warehouse gives."""
    engine.load(again, "stored", con.sql(select).to_arrow_table())
    return again.execute(
        f"with gone as (from stored except all ({select})), new as (({select}) except all from stored) "
        "select coalesce(g.file_no, n.file_no) as file_no, coalesce(g.many, 0), coalesce(n.many, 0) "
        "from (select file_no, count(*) as many from gone group by file_no) g "
        "full join (select file_no, count(*) as many from new group by file_no) n on n.file_no = g.file_no order by 1"
    ).fetchall()


def _published(con: Connection, snapshot: Path) -> Proof:
    """Whether the published state holds all that the warehouse holds."""
    quoted = str(snapshot).replace("'", "''")
    con.execute(f"attach '{quoted}' as snapshot (read_only)")
    try:
        lacking = [name for name in landed_tables.LANDED if _differs(con, f"landed.{name}", f"snapshot.landed.{name}")]
        done = con.execute("select count(*) from landed.files").fetchall()
    finally:
        con.execute("detach snapshot")
    found = [f"{name}: the published state is not the newest. `musterbook ingest` publishes anew." for name in lacking]
    return Proof("Published", f"The published state holds all {done[0][0]:,} files, row for row.", tuple(found))


def _differs(con: Connection, one: str, other: str) -> int:
    """How many rows only one of two relations has; fractions that are no money are compared to nine places."""
    described = con.execute(f"describe {one}").fetchall()
    columns = ", ".join(f'round("{c[0]}", 9)' if c[1] == "DOUBLE" else f'"{c[0]}"' for c in described)
    done = con.execute(
        f"select (select count(*) from (select {columns} from {one} except all select {columns} from {other})) + "
        f"(select count(*) from (select {columns} from {other} except all select {columns} from {one}))"
    ).fetchall()
    return int(done[0][0])


def _figures(book: Book, fresh: Connection, progress: Progress) -> list[Proof]:
    """Whether the published figures are those that a new computation gives, and whether these prove themselves."""
    days = [row[0] for row in fresh.execute("select as_of from snapshot.chosen.days order by as_of").fetchall()]
    progress("Computing again", 0, 3)
    compute(fresh, publishing.season_known(book, fresh, None), days)
    progress("Computing again", 1, 3)
    made = fresh.execute(
        "select table_schema || '.' || table_name from information_schema.tables "
        "where table_catalog = 'snapshot' and table_type = 'BASE TABLE' and list_contains(?, table_schema) order by 1",
        [list(FIGURES)],
    ).fetchall()
    names = [row[0] for row in made]
    found = [f"{name}: {n:,} rows differ." for name in names if (n := _differs(fresh, name, f"snapshot.{name}"))]
    proved = f"{len(names)} published tables, {len(days)} days: each is what a new computation from the rows gives."
    progress("Computing again", 2, 3)
    proofs = [
        Proof("Figures", proved, tuple(found)),
        Proof("Where every dollar is", *double_entry.places_proved(fresh)),
        Proof("Double entry", *double_entry.balances_proved(fresh)),
    ]
    progress("Computing again", 3, 3)
    return proofs
