"""What screens read: always for one signed-in person, of one published snapshot or of an earlier state.

Comes in: a snapshot and its viewer. Goes out: `now()`: the readings of the run that asks. A run sees one snapshot
from beginning to end; the next run sees the newest. Rows are shared between runs: nobody alters them.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, cast

import polars as pl
import pyarrow as pa

from dashboard.data.snapshots import SHELF, Past, Row, Snapshot, book, viewer
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season
from pipelines.definitions.submissions import SUBMISSION_TABLES
from pipelines.figures.changes import Change, MovedMeasure
from pipelines.figures.figures import Evident, Fact, Relation
from pipelines.figures.quartiles import Compared, Quartiles
from pipelines.figures.stall_draw import Draw
from pipelines.figures.viewer import Viewer
from pipelines.reports.findings_returned import Returned
from pipelines.tracing.terms import Traced
from pipelines.tracing.troop import AreaScope, Scope
from pipelines.upkeep.retention import keep_until
from pipelines.workflow.preview import Rows


@dataclass(frozen=True)
class Readings:
    """What one run of a screen reads: a snapshot, for a viewer, as of the week chosen.

    `known_on`: the time that somebody looks back at (UTC), None for the newest state.
    """

    viewer: Viewer
    as_of: date
    _snapshot: Snapshot | Past
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

    def vehicles(self) -> dict[str, int]:
        """How many cases each vehicle carries on the day of delivery."""
        return cast(dict[str, int], self._read("vehicles"))

    def moments(self) -> tuple[Row, ...]:
        """When files came in, the newest first: at (UTC), files; told only to the coordinator."""
        return cast(tuple[Row, ...], self._read("files.moments"))

    def changes(self, since: datetime, troop: str | None = None) -> tuple[tuple[Change, ...], tuple[MovedMeasure, ...]]:
        """What changed in the week's figures since a time (UTC), and the measures that moved; for the coordinator."""
        if self.viewer.troops is not None:
            raise Stop("What changed since a time is shown to the coordinator.")
        past = SHELF.past(since, self.as_of)
        return past.changed(self._snapshot, self.viewer, self.as_of, troop)

    def statement_lines(self, troop: str) -> tuple[Row, ...]:
        """The lines of a troop's account with the organisation and of its families' with it, up to the week chosen."""
        return tuple(self._evidence("statement_lines", troop).to_pylist())

    def last_season(self, troop: str = "") -> list[tuple[int, int]]:
        """Last season's packages of a troop, or of the area: week number and packages up to it, in order."""
        if not troop:
            return [(row["week_no"], row["last_season"]) for row in self.pace() if row["last_season"] is not None]
        rows = self._evidence("last_season", troop).to_pylist()
        told = ((row["week_no"], row["packages"]) for row in rows if not row.get("item"))
        return sorted((week, packages) for week, packages in told if week is not None and packages is not None)

    def _evidence(self, evident: Evident, troop: str) -> pa.Table:
        return cast(pa.Table, self._read("evidence", evident, troop, self.as_of))

    def known_at(self) -> datetime | None:
        """When the newest file behind the figures landed (UTC)."""
        return cast(datetime | None, self._read("files.known_at"))

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

    def slots(self) -> tuple[Row, ...]:
        """Every slot of the calendar; whose it is, of a leader only where it is her own."""
        return cast(tuple[Row, ...], self._read("stalls.calendar", self.as_of))

    def swaps(self) -> tuple[Row, ...]:
        """Swaps that wait for an answer."""
        return cast(tuple[Row, ...], self._read("stalls.swaps", self.as_of))

    def stall_hours(self) -> tuple[Row, ...]:
        """The stalls whose hours are known, without who stood there."""
        return cast(tuple[Row, ...], self._read("stalls.stall_hours", self.as_of))

    def draw(self, number: int) -> Draw:
        """The draw of a number among all who wish; told to the coordinator."""
        if self.viewer.troops is not None:
            raise Stop("The draw is the coordinator's.")
        return cast(Draw, self._read("draw", self.as_of, number))

    def quartiles(self) -> dict[Compared, Quartiles]:
        """What may be told of the troops that the viewer may not see."""
        return cast(dict[Compared, Quartiles], self._read("quartiles", self.as_of))

    def pace(self) -> tuple[Row, ...]:
        """Packages sold up to each week's number, this season and last."""
        return cast(tuple[Row, ...], self._read("pace"))

    def held(self) -> tuple[Row, ...]:
        """What is held now."""
        return cast(tuple[Row, ...], self._read("files.held"))

    def unread(self) -> tuple[Row, ...]:
        """Files that were not recognised or could not be read."""
        return cast(tuple[Row, ...], self._read("files.unread"))

    def follow_ups(self, troop: str | None = None) -> tuple[Row, ...]:
        """What was written down about exceptions, oldest first."""
        return cast(tuple[Row, ...], self._read("follow_ups", troop))

    def returned(self, file_no: int, unit: str = "") -> Returned | None:
        """What goes back to whoever sent a landed file, without the file's own cells."""
        return cast(Returned | None, self._read("returned", file_no, unit))


_RUN: ContextVar[Readings | None] = ContextVar("run", default=None)


def reading_for(who: Viewer) -> Readings:
    """The newest readings for somebody, outside of a run: for a download, or to read ahead."""
    snapshot = SHELF.newest()
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
    past = SHELF.past(known_on)
    _RUN.set(Readings(here.viewer, past.read(here.viewer, "days")[-1], past, known_on))


def sent(troop: str, week_ending: date, read: Readings | None = None) -> Rows:
    """The rows that hold of a troop's week, by table: also of a week that has come in and whose figures follow."""
    read = read or now()
    versions = [row["file_no"] for row in read.facts("versions", troop) if row["week_ending"] == week_ending]
    if rows := SHELF.send_queue().landed((troop, week_ending), after=max(versions, default=0)):
        return rows
    tables = [table.name for table in SUBMISSION_TABLES]
    return {
        name: [row for row in read.facts(cast(Fact, name), troop) if row["week_ending"] == week_ending]
        for name in tables
    }


def told_until(fact: Fact, troop: str, read: Readings) -> list[Row]:
    """A troop's rows of a sheet, week after week: also of weeks that have come in and whose figures follow."""
    lately = SHELF.send_queue().weeks(troop)
    rows = [row for row in read.facts(fact, troop) if row["week_ending"] not in lately]
    rows += [dict(row) for day in lately for row in sent(troop, day, read)[fact]]
    return sorted(rows, key=lambda row: row["week_ending"])


def season() -> Season:
    """The season's rules as season.toml states them."""
    return book().season()


def kept_until() -> date:
    """The last day on which participants' rows are kept."""
    return keep_until(book())
