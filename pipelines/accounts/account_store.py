"""The file that holds who may come in, the drafts of weeks being filled in, and the log: access.sqlite.

Comes in: a book's folder. Goes out: connections, one a thread, and log entries. It is a file of its own, not part of
the warehouse: the warehouse has one writer at a time, and a sign-in must not wait for a week that is being taken in;
and what is published is a copy of the warehouse, which must hold no code and no log.
"""

import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipelines.accounts.refusals import refusals_of
from pipelines.definitions.errors import Busy, Damaged
from pipelines.definitions.limits import MOST_LOGGED

SCHEMA = Path(__file__).parents[1] / "store" / "sql" / "access" / "schema.sql"
NAME = "access.sqlite"
WAIT_SECONDS = 10.0
BROKEN = (
    "is damaged: nobody can sign in. Bring it back from a copy of the book; or put it away, and `musterbook access` "
    "gives everybody a new code."
)
TURNED_EVERY = 500  # entries between two looks whether the oldest are too many
MOST_TOLD = 200  # characters of a log entry's words that come from outside


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the log; `at` in seconds since 1970 (UTC)."""

    at: float
    who: str
    what: str
    about: str
    address: str


class Store:
    """access.sqlite of one book. Every thread has a connection of its own; readers never wait for a writer."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        self._own = threading.local()
        self._refusals = refusals_of(self.path)
        if not self.path.exists():
            os.close(os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600))
        with _telling(self.path), self.writing() as con:  # one transaction, however many programs begin at once
            for statement in _statements(SCHEMA.read_text(encoding="utf-8").replace("{MOST_LOGGED}", str(MOST_LOGGED))):
                con.execute(statement)

    def connection(self) -> sqlite3.Connection:
        """This thread's connection, in WAL mode."""
        con: sqlite3.Connection | None = getattr(self._own, "con", None)
        if con is None:
            con = sqlite3.connect(self.path, timeout=WAIT_SECONDS, isolation_level=None)
            con.row_factory = sqlite3.Row
            con.execute("pragma journal_mode = wal")
            con.execute("pragma synchronous = full")
            con.execute("pragma foreign_keys = on")
            self._own.con = con
        return con

    def close(self) -> None:
        """Lets this thread's connection go; what is asked after that opens another."""
        if con := getattr(self._own, "con", None):
            self._own.con = None
            con.close()

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """All or nothing; waits for another writer, whose turn takes milliseconds."""
        con = self.connection()
        con.execute("begin immediate")
        try:
            yield con
        except BaseException:
            con.execute("rollback")
            raise
        con.execute("commit")

    def rows(self, query: str, *values: Any) -> list[sqlite3.Row]:
        """The rows of a query."""
        return self.connection().execute(query, values).fetchall()

    def note(self, who: str, what: str, about: str = "", address: str = "") -> None:
        """Adds an entry to the log."""
        with self.writing() as con:
            append(con, who, what, about, address)

    def note_refused(self, what: str, about: str = "", address: str = "", *, who: str = "nobody") -> None:
        """Adds a refusal to the log: the first of its kind from an address at once, those that follow as a number."""
        told = self._refusals.counted(who, what, about, address)
        if told:
            with self.writing() as con:
                for entry in told:
                    append(con, *entry)

    def write_counts(self) -> None:
        """Writes down how many refusals were counted and not told yet."""
        told = self._refusals.all_counts()
        if told:
            with self.writing() as con:
                for entry in told:
                    append(con, *entry)

    def log(self, most: int = 500) -> list[Entry]:
        """The newest entries of the log, newest first."""
        self.write_counts()
        found = self.rows("select at, who, what, about, address from log order by entry_no desc limit ?", most)
        return [Entry(*row) for row in found]


@contextmanager
def _telling(path: Path) -> Iterator[None]:
    """Raises Damaged where the file is none that this module wrote."""
    try:
        yield
    except sqlite3.DatabaseError as fault:
        if isinstance(fault, sqlite3.OperationalError) and "locked" in str(fault):
            raise Busy(f"{path} is in use by another program. Try again when it is done.") from fault
        raise Damaged(f"{path} {BROKEN}") from fault


def fault_of(folder: Path) -> str:
    """What is wrong with a book's file of who may come in, in a sentence; nothing where it is whole or not there."""
    path = folder / NAME
    if not path.is_file():
        return ""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=WAIT_SECONDS)) as con:
            is_whole = con.execute("pragma integrity_check").fetchall() == [("ok",)]
    except sqlite3.DatabaseError:
        is_whole = False
    return "" if is_whole else f"{path.name} {BROKEN}"


def append(con: sqlite3.Connection, who: str, what: str, about: str = "", address: str = "") -> None:
    """Adds an entry to the log within a transaction; line breaks and lengths from outside are kept out of it."""
    told = (" ".join(part.split())[:MOST_TOLD] for part in (who, what, about, address))
    added = con.execute("insert into log (at, who, what, about, address) values (?, ?, ?, ?, ?)", (time.time(), *told))
    number = added.lastrowid or 0
    if number % TURNED_EVERY == 0:
        con.execute("delete from log where entry_no <= ?", (number - MOST_LOGGED,))


def _statements(script: str) -> Iterator[str]:
    gathered = ""
    for line in script.splitlines():
        gathered += line + "\n"
        if sqlite3.complete_statement(gathered):
            yield gathered
            gathered = ""
