"""The book of this process: its newest snapshot, earlier states that somebody looked back at, and who asks.

Comes in: a book, once, when the server starts, and how to tell who asks. Goes out: snapshots whose answers are kept
for each viewer and question (`readings` asks them), and who is signed in. A snapshot is let go when no run reads it.
"""

import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable
from contextlib import ExitStack
from datetime import date, datetime
from functools import lru_cache, partial
from operator import attrgetter
from pathlib import Path
from typing import Any

from dashboard.data.send_queue import SendQueue
from pipelines.accounts.accounts import Access
from pipelines.accounts.turns import Turns
from pipelines.definitions.errors import NotABook, Stop
from pipelines.definitions.limits import RUNS
from pipelines.figures.changes import Change, MovedMeasure, changes, moved_measures
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import Viewer
from pipelines.follow_up.stalls import drawn
from pipelines.reports.findings_returned import of_landed
from pipelines.store import engine
from pipelines.store.book import Book
from pipelines.store.engine import Connection
from pipelines.tracing.area import AreaTracer
from pipelines.tracing.explain import trace
from pipelines.workflow import looking_back
from pipelines.workflow.guarded_preview import LookOvers

MOST_ENTRIES = 4000  # answers kept of one snapshot: those of 200 leaders
MOST_PASTS = 4  # earlier states kept in memory, each as large as the newest

Row = dict[str, Any]


class NotSignedIn(Stop):
    """Somebody asks who is not signed in, or is not any more."""


def nobody() -> Viewer:
    """Who asks where nobody has said who may: nobody."""
    raise NotSignedIn("You are not signed in any more. Load this page again to sign in.")


def viewer() -> Viewer:
    """Who is signed in, asked anew each time; raises NotSignedIn."""
    return SHELF.who()


def role() -> str:
    """What the signed-in person is, by which the screens are chosen."""
    return role_of(viewer())


def role_of(who: Viewer) -> str:
    """Coordinator, viewer or leader."""
    if who.troops is None:
        return "coordinator"
    return "viewer" if who.sees_area else "leader"


def _read(con: Connection, who: Viewer, what: str, *asked: Any) -> Any:
    """The answer to one question; `what` is a method of Figures, such as rows or files.held, or a trace."""
    figures = Figures(con, who)
    if what == "trace":
        return trace(figures, *asked)
    if what == "draw":
        return drawn(figures, *asked)
    if what == "returned":
        return of_landed(figures, *asked)
    if what == "trace_area":
        relation, name, as_of, item, troop = asked
        return AreaTracer(figures, as_of, of_troop=troop).of(relation, name, item)
    found = attrgetter(what)(figures)(*asked)
    return tuple(found) if isinstance(found, list) else found


class Snapshot:
    """One published state, open and held. It is closed when the last run that refers to it ends."""

    def __init__(self, book: Book) -> None:
        with ExitStack() as stack:
            self.path = stack.enter_context(book.holding())
            self.con = engine.connect(self.path, read_only=True)
            stack.callback(self.con.close)
            self.read = lru_cache(MOST_ENTRIES)(partial(_read, self.con))
            self._let_go = weakref.finalize(self, stack.pop_all().close)


class Past:
    """The newest snapshot as it was known at an earlier time, in memory: of one day alone, or of every week then."""

    def __init__(self, book: Book, known_on: datetime, as_of: date | None) -> None:
        with ExitStack() as stack:
            self.con = stack.enter_context(looking_back.looked_back(book, known_on, as_of))
            self.read = lru_cache(MOST_ENTRIES)(partial(_read, self.con))
            self.changed = lru_cache(16)(partial(_changed, self.con))
            self._let_go = weakref.finalize(self, stack.pop_all().close)


def _changed(
    past: Connection, now: Snapshot | Past, who: Viewer, as_of: date, troop: str | None
) -> tuple[tuple[Change, ...], tuple[MovedMeasure, ...]]:
    before, after = Figures(past, who), Figures(now.con, who)
    return tuple(changes(before, after, as_of, troop)), tuple(moved_measures(before, after, as_of, troop))


class Shelf:
    """The book of this process, its newest snapshot, and earlier states that somebody looked back at."""

    def __init__(self) -> None:
        self.book: Book | None = None
        self.who: Callable[[], Viewer] = nobody
        self.is_fresh: Callable[[], bool] = lambda: True
        self._access: Access | None = None
        self._send_queue: SendQueue | None = None
        self._look_overs: LookOvers | None = None
        self._newest: Snapshot | None = None
        self._pasts: OrderedDict[tuple[Path, datetime, date | None], Past] = OrderedDict()
        self._lock = threading.Lock()
        self._looking_back = threading.Lock()  # one earlier state is made at a time
        self.runs = Turns(RUNS)

    def place(self, book: Book | None, who: Callable[[], Viewer], is_fresh: Callable[[], bool]) -> None:
        with self._lock:
            before, self._send_queue = self._send_queue, None
            looking, self._look_overs = self._look_overs, None
            self.book, self.who, self._newest, self._access = book, who, None, None
            self.is_fresh = is_fresh
            self._pasts.clear()
        if before:
            before.close()
        if looking:
            looking.close()

    def send_queue(self) -> SendQueue:
        with self._lock:
            if self._send_queue is None:
                self._send_queue = SendQueue(book())
            return self._send_queue

    def look_overs(self) -> LookOvers:
        with self._lock:
            if self._look_overs is None:
                self._look_overs = LookOvers()
            return self._look_overs

    def access(self) -> Access:
        with self._lock:
            if self._access is None:
                self._access = Access(book().folder)
            return self._access

    def newest(self) -> Snapshot:
        with self._lock:
            book = self.book
            if book is None:
                raise NotABook("No book is open. Start the dashboard with `musterbook serve --book DIR`.")
            if self._newest is None or self._newest.path != book.current_snapshot():
                self._newest = Snapshot(book)
                self._pasts.clear()
            return self._newest

    def past(self, known_on: datetime, as_of: date | None = None) -> Past:
        """An earlier state of the newest snapshot, made where nobody asked for it lately."""
        asked = (self.newest().path, known_on, as_of)
        with self._looking_back:
            if asked not in self._pasts:
                self._pasts[asked] = Past(book(), known_on, as_of)
            self._pasts.move_to_end(asked)
            while len(self._pasts) > MOST_PASTS:
                self._pasts.popitem(last=False)
            return self._pasts[asked]


SHELF = Shelf()


def open_book(
    book: Book | None, who: Callable[[], Viewer] = nobody, is_fresh: Callable[[], bool] = lambda: True
) -> None:
    """Names the book that this process shows, and how to tell who asks; unless that is told, nobody may.

    `is_fresh`: whether who asks has signed in just now.
    """
    SHELF.place(book, who, is_fresh)


def book() -> Book:
    """The book that this process shows; raises NotABook."""
    if SHELF.book is None:
        raise NotABook("No book is open.")
    return SHELF.book
