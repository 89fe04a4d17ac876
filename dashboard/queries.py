"""Cached readings of measures, always for one signed-in person and one published snapshot.

Comes in: a book, once, when the server starts. Goes out: `now()`: the readings of the run that asks. A run sees one
snapshot from beginning to end; the next run sees the newest. A snapshot is let go when no run reads it any more.
Rows are shared between runs: nobody alters them.
"""

import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, cast

import polars as pl
import pyarrow as pa

from dashboard.postbox import Postbox
from pipelines import drafts, flow, follow_up, foreign, warehouse
from pipelines.access import Access
from pipelines.book import Book
from pipelines.care import keep_until
from pipelines.changes import Change, MovedMeasure, changes, moved_measures
from pipelines.contract import SUBMISSION_TABLES
from pipelines.drafts import Draft
from pipelines.errors import NotABook, Stop
from pipelines.flow import Outcome
from pipelines.follow_up import Entry
from pipelines.foreign import Draft as ForeignDraft
from pipelines.foreign import Waiting
from pipelines.formulas import Scope
from pipelines.measures import Evident, Fact, Figures, Relation, Viewer
from pipelines.preview import Preview, preview
from pipelines.quartiles import Compared, Quartiles
from pipelines.records import Sheet
from pipelines.reports.returned import Returned, of_landed
from pipelines.season import Season
from pipelines.terms import Traced
from pipelines.tracing import trace
from pipelines.tracing_area import AreaScope, AreaTracer
from pipelines.warehouse import Connection

MOST_ENTRIES = 4000  # readings kept of one snapshot: those of 200 leaders
MOST_PASTS = 4  # earlier states kept in memory, each as large as the newest
WEEK = timedelta(weeks=1)
FACTS_OF_TROOPS: tuple[Fact, ...] = ("troops", "roster")
Row = dict[str, Any]


class NotSignedIn(Stop):
    """Somebody asks who is not signed in, or is not any more."""


def nobody() -> Viewer:
    """Who asks where nobody has said who may: nobody."""
    raise NotSignedIn("You are not signed in any more. Load this page again to sign in.")


def viewer() -> Viewer:
    """Who is signed in, asked anew each time; raises NotSignedIn."""
    return _SHELF.who()


def role() -> str:
    """What the signed-in person is, by which the screens are chosen."""
    return role_of(viewer())


def role_of(who: Viewer) -> str:
    """Coordinator, viewer or leader."""
    if who.troops is None:
        return "coordinator"
    return "viewer" if who.sees_area else "leader"


def _read(con: Connection, who: Viewer, what: str, *asked: Any) -> Any:
    figures = Figures(con, who)
    if what == "trace":
        return trace(figures, *asked)
    if what == "returned":
        return of_landed(figures, *asked)
    if what == "trace_area":
        relation, name, as_of, item, troop = asked
        return AreaTracer(figures, as_of, of_troop=troop).of(relation, name, item)
    found = getattr(figures, what)(*asked)
    return tuple(found) if isinstance(found, list) else found


class _Snapshot:
    """One published state, open and held. It is closed when the last run that refers to it ends."""

    def __init__(self, book: Book) -> None:
        with ExitStack() as stack:
            self.path = stack.enter_context(book.holding())
            self.con = warehouse.connect(self.path, read_only=True)
            stack.callback(self.con.close)
            self.read = lru_cache(MOST_ENTRIES)(partial(_read, self.con))
            self._let_go = weakref.finalize(self, stack.pop_all().close)


class _Past:
    """The newest snapshot as it was known at an earlier time, in memory: of one day alone, or of every week then."""

    def __init__(self, book: Book, known_on: datetime, as_of: date | None) -> None:
        with ExitStack() as stack:
            self.con = stack.enter_context(flow.looked_back(book, known_on, as_of))
            self.read = lru_cache(MOST_ENTRIES)(partial(_read, self.con))
            self.changed = lru_cache(16)(partial(_changed, self.con))
            self._let_go = weakref.finalize(self, stack.pop_all().close)


def _changed(
    past: Connection, now: _Snapshot | _Past, who: Viewer, as_of: date, troop: str | None
) -> tuple[tuple[Change, ...], tuple[MovedMeasure, ...]]:
    before, after = Figures(past, who), Figures(now.con, who)
    return tuple(changes(before, after, as_of, troop)), tuple(moved_measures(before, after, as_of, troop))


class _Shelf:
    """The book of this process, its newest snapshot, and earlier states that somebody looked back at."""

    def __init__(self) -> None:
        self.book: Book | None = None
        self.who: Callable[[], Viewer] = nobody
        self._access: Access | None = None
        self._postbox: Postbox | None = None
        self._newest: _Snapshot | None = None
        self._pasts: OrderedDict[tuple[Path, datetime, date | None], _Past] = OrderedDict()
        self._lock = threading.Lock()
        self._looking_back = threading.Lock()  # one earlier state is made at a time

    def place(self, book: Book | None, who: Callable[[], Viewer]) -> None:
        with self._lock:
            before, self._postbox = self._postbox, None
            self.book, self.who, self._newest, self._access = book, who, None, None
            self._pasts.clear()
        if before:
            before.close()

    def postbox(self) -> Postbox:
        with self._lock:
            if self._postbox is None:
                self._postbox = Postbox(book())
            return self._postbox

    def access(self) -> Access:
        with self._lock:
            if self._access is None:
                self._access = Access(book().folder)
            return self._access

    def newest(self) -> _Snapshot:
        with self._lock:
            book = self.book
            if book is None:
                raise NotABook("No book is open. Start the dashboard with `musterbook serve --book DIR`.")
            if self._newest is None or self._newest.path != book.current_snapshot():
                self._newest = _Snapshot(book)
                self._pasts.clear()
            return self._newest

    def past(self, known_on: datetime, as_of: date | None = None) -> _Past:
        """An earlier state of the newest snapshot, made where nobody asked for it lately."""
        asked = (self.newest().path, known_on, as_of)
        with self._looking_back:
            if asked not in self._pasts:
                self._pasts[asked] = _Past(book(), known_on, as_of)
            self._pasts.move_to_end(asked)
            while len(self._pasts) > MOST_PASTS:
                self._pasts.popitem(last=False)
            return self._pasts[asked]


_SHELF = _Shelf()


@dataclass(frozen=True)
class Readings:
    """What one run of a screen reads: a snapshot, for a viewer, as of the week chosen.

    `known_on`: the time that somebody looks back at (UTC), None for the newest state.
    """

    viewer: Viewer
    as_of: date
    _snapshot: _Snapshot | _Past
    known_on: datetime | None = None

    def _read(self, what: str, *asked: Any) -> Any:
        return self._snapshot.read(self.viewer, what, *asked)

    def traced(self, relation: Scope, measure: str, troop: str, part: str = "", as_of: date | None = None) -> Traced:
        """How a figure of a troop is made, down to the cells; raises Stop where it cannot be traced."""
        return cast(Traced, self._read("trace", relation, measure, as_of or self.as_of, troop, part))

    def traced_area(
        self, relation: AreaScope, measure: str, item: str = "", troop: str = "", as_of: date | None = None
    ) -> Traced:
        """How a figure of the area is made from the troops', and of one `troop` from its cells; the coordinator's."""
        return cast(Traced, self._read("trace_area", relation, measure, as_of or self.as_of, item, troop))

    def days(self) -> tuple[date, ...]:
        """The ends of the weeks that are published, oldest first."""
        return cast(tuple[date, ...], self._read("days"))

    @property
    def before(self) -> date | None:
        """The end of the week before the one chosen; None in the first."""
        earlier = [day for day in self.days() if day < self.as_of]
        return earlier[-1] if earlier else None

    def rules(self) -> Row:
        """The season's rules."""
        return cast(Row, self._read("rules"))

    def season_items(self) -> tuple[Row, ...]:
        """The season's items in its own order."""
        return cast(tuple[Row, ...], self._read("season_items"))

    def moments(self) -> tuple[Row, ...]:
        """When files came in, the newest first: at (UTC), files; told only to the coordinator."""
        return cast(tuple[Row, ...], self._read("moments"))

    def changes(self, since: datetime, troop: str | None = None) -> tuple[tuple[Change, ...], tuple[MovedMeasure, ...]]:
        """What changed in the week's figures since a time (UTC), and the measures that moved; for the coordinator."""
        if self.viewer.troops is not None:
            raise Stop("What changed since a time is shown to the coordinator.")
        past = _SHELF.past(since, self.as_of)
        return past.changed(self._snapshot, self.viewer, self.as_of, troop)

    def statement_lines(self, troop: str) -> tuple[Row, ...]:
        """The lines of a troop's account with the organisation and of its families' with it, up to the week chosen."""
        return tuple(self._evidence("statement_lines", troop).to_pylist())

    def _evidence(self, evident: Evident, troop: str) -> pa.Table:
        return cast(pa.Table, self._read("evidence", evident, troop, self.as_of))

    def known_at(self) -> datetime | None:
        """When the newest file behind the figures landed (UTC)."""
        return cast(datetime | None, self._read("known_at"))

    def rows(self, relation: Relation, as_of: date | None = None, troop: str | None = None) -> tuple[Row, ...]:
        """Rows of a relation as of the week chosen, or another."""
        return cast(tuple[Row, ...], self._read("rows", relation, as_of or self.as_of, troop))

    def weeks(self, relation: Relation, troop: str | None = None) -> tuple[Row, ...]:
        """Rows of a relation for every published week."""
        return cast(tuple[Row, ...], self._read("rows", relation, None, troop))

    def row(self, relation: Relation, as_of: date | None = None, troop: str | None = None) -> Row | None:
        """The one row of a relation, such as the area's or a troop's; None where there is none to see."""
        found = self.rows(relation, as_of, troop)
        return found[0] if found else None

    def frame(self, relation: Relation, as_of: date | None = None, troop: str | None = None) -> pl.DataFrame:
        """The same as `rows`, as a frame; money is Decimal with two decimals."""
        table = cast(pa.Table, self._read("frame", relation, as_of or self.as_of, troop))
        return cast(pl.DataFrame, pl.from_arrow(table))

    def facts(self, fact: Fact, troop: str | None = None) -> tuple[Row, ...]:
        """What is known whatever the week."""
        return cast(tuple[Row, ...], self._read("facts", fact, troop))

    def quartiles(self) -> dict[Compared, Quartiles]:
        """What may be told of the troops that the viewer may not see."""
        return cast(dict[Compared, Quartiles], self._read("quartiles", self.as_of))

    def pace(self) -> tuple[Row, ...]:
        """Packages sold up to each week's number, this season and last."""
        return cast(tuple[Row, ...], self._read("pace"))

    def held(self) -> tuple[Row, ...]:
        """What is held now."""
        return cast(tuple[Row, ...], self._read("held"))

    def unread(self) -> tuple[Row, ...]:
        """Files that were not recognised or could not be read."""
        return cast(tuple[Row, ...], self._read("unread"))

    def follow_ups(self, troop: str | None = None) -> tuple[Row, ...]:
        """What was written down about exceptions, oldest first."""
        return cast(tuple[Row, ...], self._read("follow_ups", troop))

    def returned(self, file_no: int, unit: str = "") -> Returned | None:
        """What goes back to whoever sent a landed file, without the file's own cells."""
        return cast(Returned | None, self._read("returned", file_no, unit))


_RUN: ContextVar[Readings | None] = ContextVar("run", default=None)


def open_book(book: Book | None, who: Callable[[], Viewer] = nobody) -> None:
    """Names the book that this process shows, and how to tell who asks; unless that is told, nobody may."""
    _SHELF.place(book, who)


def book() -> Book:
    """The book that this process shows; raises NotABook."""
    if _SHELF.book is None:
        raise NotABook("No book is open.")
    return _SHELF.book


def reading_for(who: Viewer) -> Readings:
    """The newest readings for somebody, outside of a run: for a download, or to read ahead."""
    snapshot = _SHELF.newest()
    return Readings(who, snapshot.read(who, "days")[-1], snapshot)


def _latest() -> Readings:
    return reading_for(viewer())


@contextmanager
def run() -> Iterator[Readings]:
    """One run of the app: all its readings come from the same snapshot."""
    mark = _RUN.set(_latest())
    try:
        yield now()
    finally:
        _RUN.reset(mark)


def now() -> Readings:
    """The readings of this run; outside of one, of the newest snapshot."""
    return _RUN.get() or _latest()


def choose(as_of: date) -> None:
    """Says which week this run is about."""
    _RUN.set(replace(now(), as_of=as_of))


def look_back(known_on: datetime) -> None:
    """Says that this run is about the book as it was known at a time (UTC); for the coordinator."""
    here = now()
    if here.viewer.troops is not None:
        raise Stop("Looking back is for the coordinator.")
    past = _SHELF.past(known_on)
    _RUN.set(Readings(here.viewer, past.read(here.viewer, "days")[-1], past, known_on))


def take_in(paths: list[Any]) -> list[Outcome]:
    """Takes files in on behalf of the viewer, while others read and write; the next run shows what they changed.

    Raises Busy where another writer does not let go in time.
    """
    who = viewer()
    if who.troops is not None:
        raise Stop("Files of any kind are taken in by the coordinator. Send your own troop's week on its own screen.")
    note("files sent", ", ".join(Path(path).name for path in paths))
    return flow.ingest(book(), paths, who.name)


def foreign_files() -> list[Waiting]:
    """The files that wait for a mapping; raises Stop for anybody but the coordinator."""
    _coordinator()
    return [one for one in foreign.waiting(book()) if not one.is_read]


def foreign_draft(
    file: Waiting, table: str = "", sheet: str | None = None, header_rows: int = 0
) -> ForeignDraft | None:
    """The mapping proposed for a waiting file, read once for each published state."""
    _coordinator()
    return _drafted(book().current_snapshot(), file, table, sheet, header_rows)


@lru_cache(16)
def _drafted(_snapshot: Path, file: Waiting, table: str, sheet: str | None, header_rows: int) -> ForeignDraft | None:
    known = foreign.hints(book())
    return foreign.drafted(book(), file, known, table=table, sheet=sheet, header_rows=header_rows)


def confirm_mapping(draft: ForeignDraft) -> list[Outcome]:
    """Keeps a mapping on behalf of the coordinator and tries again what is held; raises Stop."""
    who = _coordinator()
    note("mapping confirmed", f"{draft.name} for {draft.file.name}")
    return foreign.confirm(book(), draft, who)


def _coordinator() -> str:
    """The name of whoever asks, where it is the coordinator; raises Stop for anybody else."""
    who = viewer()
    if who.troops is not None:
        raise Stop("How files from elsewhere are read is the coordinator's to say.")
    return who.name


def write_down(entries: list[Entry]) -> int:
    """Writes down what was said about exceptions, as of the week chosen; how many entries were new.

    Raises Stop where an entry lacks something, or for anybody but the coordinator.
    """
    who = viewer()
    if who.troops is not None:
        raise Stop("Notes and promises are written down by the coordinator.")
    if now().known_on:
        raise Stop("You are looking back. Notes and promises belong to the newest figures: go back to them first.")
    note("followed up", ", ".join(sorted({str(one.key) for one in entries})))
    return follow_up.write(book(), who.name, now().as_of, entries)


def access() -> Access:
    """The accounts of the book, for the coordinator's screen; raises Stop for anybody else."""
    if viewer().troops is not None:
        raise Stop("Who may sign in is the coordinator's to say.")
    return _SHELF.access()


def note(what: str, about: str = "") -> None:
    """Writes down in the log what the person signed in does."""
    _SHELF.access().store.note(viewer().name, what, about)


def note_of(name: str, what: str, about: str = "", address: str = "") -> None:
    """Writes down in the log what somebody does outside of the app's own runs."""
    _SHELF.access().store.note(name, what, about, address)


def _own(troop: str) -> str:
    """The name of whoever asks, where the troop is theirs; raises Stop where it is not, whether or not it exists."""
    who = viewer()
    if who.troops is None or troop not in who.troops:
        raise Stop("This is no troop of yours.")
    return who.name


def draft(troop: str, week_ending: date) -> Draft:
    """The week that a troop is filling in: its draft, else what was sent, else empty rows for all that is known."""
    _own(troop)
    found = drafts.kept(_SHELF.access().store, troop, week_ending)
    if found:
        return found
    known = [
        row["participant"]
        for row in now().facts("roster", troop)
        if row["registered_on"] <= week_ending and (row["left_on"] is None or row["left_on"] > week_ending - WEEK)
    ]
    return drafts.prefilled(book().season(), sorted(known), sent(troop, week_ending))


def sent(troop: str, week_ending: date) -> dict[str, list[Row]]:
    """The rows that hold of a troop's week, by table."""
    tables = [table.name for table in SUBMISSION_TABLES]
    return {
        name: [row for row in now().facts(cast(Fact, name), troop) if row["week_ending"] == week_ending]
        for name in tables
    }


def is_kept(troop: str, week_ending: date) -> bool:
    """Whether there is a draft of a troop's week."""
    _own(troop)
    return drafts.kept(_SHELF.access().store, troop, week_ending) is not None


def keep_draft(troop: str, week_ending: date, typed: Draft) -> bool:
    """Keeps what was typed; False where it is far too long."""
    return drafts.keep(_SHELF.access().store, troop, week_ending, typed, _own(troop))


def drop_draft(troop: str, week_ending: date) -> None:
    """Throws a draft away; what was sent stays."""
    _own(troop)
    drafts.drop(_SHELF.access().store, troop, week_ending)


def look_over(given: Path | list[Sheet], name: str) -> Preview:
    """A workbook judged before it is sent. Raises Stop where it is not a week of a troop of the viewer's.

    The same is said whether it is another troop's, or nobody's: it tells nothing of troops that are not the viewer's.
    """
    who = viewer()
    with book().holding() as snapshot:
        found = preview(book().season(), _known_troops(), given, name, snapshot)
    if found.what != "submission":
        raise Stop(
            "This file is no workbook of a troop's week. Fetch this week's form under Our papers and fill it in."
        )
    if who.troops is None or found.troop not in who.troops:
        raise Stop("This workbook's Cover does not name a troop of yours. Look at the code beside Troop.")
    return found


def send_week(payload: bytes, name: str, troop: str, week_ending: date) -> Outcome:
    """Takes a troop's workbook in on behalf of its leader; raises Stop where it speaks of another troop.

    It is certain by then; the figures with it follow, see `follows`.
    """
    who = viewer()
    if not who.troops:
        raise Stop("Only a troop's leader sends its week here.")
    outcome = _SHELF.postbox().send(payload, name, who.name, who.troops, (troop, week_ending))
    note("week sent", f"{name}: {outcome.status}")
    return outcome


def follows(troop: str, week_ending: date) -> bool:
    """Whether a troop's week has come in, and the figures with it are still being made."""
    _own(troop)
    return _SHELF.postbox().follows((troop, week_ending))


def _known_troops() -> list[str]:
    """The codes of all troops, which a file is judged by; never shown."""
    everybody = reading_for(Viewer("judging"))
    return sorted({row["troop"] for fact in FACTS_OF_TROOPS for row in everybody.facts(fact)})


def season() -> Season:
    """The season's rules as season.toml states them."""
    return book().season()


def kept_until() -> date:
    """The last day on which participants' rows are kept."""
    return keep_until(book())
