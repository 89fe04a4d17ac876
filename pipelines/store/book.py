"""The book: one folder, its paths, the writer's lock, landed bytes, and the snapshots that readers open.

Comes in: a folder. Goes out: paths, a connection for the one writer, read-only snapshots for everybody else.

A snapshot holds the landed tables too, so that any day and any known-on time can be made from it by a reader while the
writer is at work. It carries its time in the file's name (an open path would show the old one), a pointer file names
the current one, readers hold a shared lock, and one that nobody holds is cleared at the next publishing.
"""

import fcntl
import getpass
import hashlib
import os
import shutil
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from pipelines.definitions.errors import BrokenSeason, Busy, Damaged, NotABook, Stop
from pipelines.definitions.season import Season, read_season
from pipelines.store import engine, journal, migrations, relations

WAIT_SECONDS = 120.0
SEASON = "season.toml"


def now() -> datetime:
    """The time in UTC, without a zone, as the warehouse keeps it."""
    return datetime.now(UTC).replace(tzinfo=None)


class Book:
    """One season of one area, in one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.season_file = folder / SEASON
        self.mappings = folder / "mappings"
        self.landed = folder / "landed"
        self.warehouse_file = folder / "warehouse.duckdb"
        self.published = folder / "published"
        self.out = folder / "out"
        self.journal = self.landed / journal.NAME
        self.before = folder / "before"  # warehouses as they were before the book moved on to a newer program
        self.sent = folder / "sent.csv"  # the letters that went
        self.sending = folder / "sending.json"  # the one on its way
        self.mail = folder / "mail.toml"
        self.purge_mark = folder / "purged.json"
        self.purge_begun = folder / "purging.json"
        self._pointer = self.published / "current"
        self._lock_file = folder / ".lock"
        self._holder_file = folder / ".lock-holder"

    def season(self) -> Season:
        """The season as season.toml states it now; raises BrokenSeason or NotABook."""
        if not self.season_file.is_file():
            raise NotABook(f"{self.folder} is not a book: it has no season.toml. `musterbook new DIR` makes one.")
        try:
            return read_season(self.season_file.read_text(encoding="utf-8-sig"))
        except UnicodeDecodeError as fault:
            raise BrokenSeason("season.toml is not UTF-8 text: save it as UTF-8.") from fault

    @contextmanager
    def writing(
        self,
        on_wait: Callable[[str], None] = lambda _said: None,
        wait: float = WAIT_SECONDS,
        *,
        purging: bool = False,
    ) -> Iterator[engine.Connection]:
        """The one writer's connection; waits for another writer, telling who; raises Busy after `wait` seconds.

        A book whose participants' rows are purged takes nothing in any more: raises Stop, but for the purge itself.
        The holder's name stays where the work was broken off: see `was_broken_off`.
        """
        self.season()
        if (self.purge_mark.exists() or self.purge_begun.exists()) and not purging:
            raise Stop(
                "This book's season is over: its participants' rows are purged, and its totals stay as they are."
            )
        with self.alone(on_wait, wait):
            self._refuse_lost_warehouse()
            shutil.rmtree(f"{self.warehouse_file}{engine.SPILLED}", ignore_errors=True)  # of one that was broken off
            con = migrations.open_for_writing(self.warehouse_file, self.before, on_wait)
            try:
                with engine.enough_memory():
                    self._write_down(con)
                    yield con
                    self._write_down(con)
            finally:
                con.close()

    @contextmanager
    def alone(self, on_wait: Callable[[str], None] = lambda _said: None, wait: float = WAIT_SECONDS) -> Iterator[None]:
        """The writer's lock without a connection; raises Busy."""
        lock = FileLock(self._lock_file)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            on_wait(f"Waiting for {self._holder()}, who is writing in this book.")
            try:
                lock.acquire(timeout=wait)
            except Timeout:
                raise Busy(f"{self._holder()} is still writing in this book. Try again when it is done.") from None
        try:
            self._holder_file.write_text(f"{_me()}, since {datetime.now().astimezone():%H:%M:%S}", encoding="utf-8")
            yield
            with suppress(OSError):
                self._holder_file.unlink()
        finally:
            lock.release()

    def _write_down(self, con: engine.Connection) -> None:
        """Brings the journal up to date; one whose rows are purged has none."""
        if not self.purge_mark.exists():
            journal.write_down(con, self.journal)

    def _refuse_lost_warehouse(self) -> None:
        """A book without its warehouse is not a new book; raises Damaged."""
        if not self.warehouse_file.exists() and (self.journal.is_file() or self.has_snapshot()):
            raise Damaged(f"{self.warehouse_file} is missing, though files have landed. {engine.WAY_OUT}")

    def was_broken_off(self) -> bool:
        """Whether a writer did not come to its end, or is at work now: what it took in may not be published."""
        return self._holder_file.exists() or self.purge_begun.exists()

    def _holder(self) -> str:
        with suppress(OSError):
            return self._holder_file.read_text(encoding="utf-8") or "somebody"
        return "somebody"

    def land(self, payload: bytes) -> tuple[str, Path]:
        """Keeps bytes under their SHA-256; the same bytes again mend what is damaged of the first."""
        digest = hashlib.sha256(payload).hexdigest()
        path = self.landed_path(digest)
        if not path.exists() or path.read_bytes() != payload:
            path.parent.mkdir(parents=True, exist_ok=True)
            making = path.with_name(f".{digest}.{os.getpid()}")
            making.write_bytes(payload)
            making.replace(path)
        return digest, path

    def landed_path(self, digest: str) -> Path:
        """Where the bytes of this SHA-256 lie."""
        return self.landed / digest[:2] / digest

    def publish(self, make: Callable[[Path], None]) -> Path:
        """Lets `make` write a new snapshot aside, then puts it in place of the current one; clears old ones.

        Its name ends in the mark of the program by whose relations it was computed.
        """
        self.published.mkdir(exist_ok=True)
        stamp = f"{now():%Y%m%dT%H%M%S%f}"
        making = self.published / f".making-{stamp}.duckdb"
        with suppress(FileNotFoundError):
            making.unlink()
        make(making)
        snapshot = self.published / f"{stamp}-{relations.mark()}.duckdb"
        making.replace(snapshot)
        pointer = self.published / f".current-{stamp}"
        pointer.write_text(snapshot.name, encoding="utf-8")
        pointer.replace(self._pointer)
        self._clear_snapshots(keep=snapshot.name)
        return snapshot

    def current_snapshot(self) -> Path:
        """The published snapshot that readers open now; raises NotABook where nothing is published yet."""
        with suppress(FileNotFoundError):
            name = self._pointer.read_text(encoding="utf-8", errors="replace").strip()
            if name and (self.published / name).is_file():
                return self.published / name
        raise NotABook(f"Nothing is published in {self.folder} yet. `musterbook ingest` takes files in and publishes.")

    def has_snapshot(self) -> bool:
        """Whether something is published."""
        with suppress(NotABook):
            return self.current_snapshot().is_file()
        return False

    def is_published_by_this_program(self) -> bool:
        """Whether the current snapshot has the relations of this program; one of an older program may lack some."""
        return self.has_snapshot() and self.current_snapshot().stem.endswith(f"-{relations.mark()}")

    @contextmanager
    def holding(self) -> Iterator[Path]:
        """The current snapshot's path, which is kept while it is held."""
        snapshot, hold = self._held()
        while not snapshot.is_file():  # cleared between the pointer's reading and the hold: there is a newer one
            os.close(hold)
            self._in_use(snapshot).unlink(missing_ok=True)
            snapshot, hold = self._held()
        try:
            with engine.enough_memory():
                yield snapshot
        finally:
            os.close(hold)

    @contextmanager
    def reading(self) -> Iterator[engine.Connection]:
        """A read-only connection to the current snapshot, which is kept while it is open."""
        with self.holding() as snapshot:
            con = engine.connect(snapshot, read_only=True)
            try:
                yield con
            finally:
                con.close()

    def _held(self) -> tuple[Path, int]:
        """The current snapshot's path and the descriptor by which it is held, as soon as nobody is clearing it."""
        snapshot = self.current_snapshot()
        hold = os.open(self._in_use(snapshot), os.O_RDWR | os.O_CREAT, 0o600)
        fcntl.flock(hold, fcntl.LOCK_SH)
        return snapshot, hold

    def _in_use(self, snapshot: Path) -> Path:
        return snapshot.with_suffix(".reading")

    def _clear_snapshots(self, keep: str) -> None:
        """Removes every snapshot that is not current and that nobody holds, and what a broken-off writer left."""
        for path in [*self.published.glob(".making-*"), *self.published.glob(".current-*")]:
            path.unlink(missing_ok=True)
        for path in self.published.glob("*.duckdb"):
            if path.name == keep or time.time() - path.stat().st_mtime < 2:
                continue  # a reader may have read the pointer a moment ago
            hold = os.open(self._in_use(path), os.O_RDWR | os.O_CREAT, 0o600)
            try:
                fcntl.flock(hold, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                continue  # somebody reads it
            else:
                path.unlink(missing_ok=True)
                shutil.rmtree(f"{path}{engine.SPILLED}", ignore_errors=True)
                self._in_use(path).unlink(missing_ok=True)
            finally:
                os.close(hold)


def operator() -> str:
    """Who is at this terminal: the account's name, or its number where it has none."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return f"user {os.getuid()}"


def _me() -> str:
    return f"{operator()} on {socket.gethostname()} (process {os.getpid()})"


def write_whole(path: Path, content: str | bytes) -> None:
    """A small file that is there whole, on the disk, or as it was before."""
    making = path.with_name(f".{path.name}.making")
    with making.open("wb") as out:
        out.write(content.encode() if isinstance(content, str) else content)
        out.flush()
        os.fsync(out.fileno())
    making.replace(path)


@contextmanager
def made_aside(folder: Path) -> Iterator[Path]:
    """Where a new folder is made: it takes its place once it is whole. Raises NotABook where something is in the way.

    What an earlier try that was broken off left goes. A folder that is there already stays the same one, since somebody
    may stand in it: it is filled in a moment, its season last.
    """
    folder = folder.absolute()
    if folder.exists() and any(folder.iterdir()):
        raise NotABook(f"{folder} is not empty. Choose a new folder for the book.")
    making = folder.with_name(f".{folder.name}.making")
    shutil.rmtree(making, ignore_errors=True)
    try:
        yield making
        if not folder.exists():
            making.replace(folder)
            return
        folder.chmod(making.stat().st_mode)
        for path in sorted(making.iterdir(), key=lambda path: path.name == SEASON):
            path.replace(folder / path.name)
    finally:
        shutil.rmtree(making, ignore_errors=True)


def new_book(folder: Path, season_text: str) -> Book:
    """An empty book in a folder that is new or empty; raises NotABook where something is in the way."""
    begun = f".{SEASON}.making"  # what an earlier try that was broken off left
    if folder.exists() and any(path.is_file() and path.name != begun for path in folder.rglob("*")):
        raise NotABook(f"{folder} is not empty. Choose a new folder for the book.")
    for part in ("landed", "published", "mappings", "out"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)  # whatever the umask: what is in it is for its owner alone
    write_whole(folder / SEASON, season_text)
    return Book(folder)
