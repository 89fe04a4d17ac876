"""The weekly roll-up: every paper of a week in one folder, whole or not at all, and a manifest of what it rests on.

Comes in: a book, a day, a known-on time. Goes out: out/<day>/ and what was held back from it. Each module of this
package that has `papers(week)` makes its part: a paper is added by adding a file. One that has `begin(week, executor)`
has work done beside the others'. One that has FOR_ORGANISATION makes what may leave for the organisation.
"""

import hashlib
import importlib
import json
import os
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from pipelines import reports
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.reports.region_tables import terms
from pipelines.reports.week import Week
from pipelines.reports.whole_folder import MARK, whole_folder
from pipelines.store import landed_tables
from pipelines.store.book import Book
from pipelines.workflow import publishing

Progress = Callable[[str, int, int], None]
FOR_ORGANISATION = "-for-organisation"  # ends the name of its folder
MAKERS = ("musterbook", "duckdb", "pyarrow", "xlsxwriter", "typst")  # whose versions the bytes depend on


@dataclass(frozen=True, slots=True)
class RolledUp:
    """What a roll-up made: its folder, its files by path with their SHA-256, and the files whose rows are held."""

    folder: Path
    as_of: date
    known_on: datetime | None
    files: Mapping[str, str]
    held: tuple[str, ...]


def roll_up(
    book: Book,
    as_of: date,
    known_on: datetime | None = None,
    out: Path | None = None,
    *,
    with_families: bool = True,
    for_organisation: bool = False,
    progress: Progress = publishing.silent,
) -> RolledUp:
    """Makes every paper of a week, or those that the organisation gets.

    Raises NotABook where nothing is published, Stop where `out` is something else.
    """
    place = out or book.out / (as_of.isoformat() + (FOR_ORGANISATION if for_organisation else ""))
    with week_of(book, as_of, known_on, with_families=with_families, for_organisation=for_organisation) as week:
        if not week.standing:
            raise Stop(
                "No troop was known by then, so that there is nothing to roll up. Take in the list of troops first."
            )
        landed = week.figures.files.landed()
        with whole_folder(place) as folder:
            files = {}
            for path, content in _papers(week, progress):
                files[path] = hashlib.sha256(content).hexdigest()
                (folder / path).parent.mkdir(parents=True, exist_ok=True)
                (folder / path).write_bytes(content)
            manifest = _manifest(week, dict(sorted(files.items())), landed)
            (folder / MARK).write_text(json.dumps(manifest, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
    return RolledUp(place, as_of, week.known_on, files, _held(landed, as_of))


@contextmanager
def week_of(
    book: Book,
    as_of: date,
    known_on: datetime | None = None,
    *,
    viewer: Viewer = COORDINATOR,
    with_families: bool = True,
    for_organisation: bool = False,
) -> Iterator[Week]:
    """A Week to make papers of, for one viewer; the published figures, or figures made anew for the day and time."""
    with _figures(book, viewer, as_of, known_on) as (figures, season):
        times = [file["landed_at"] for file in figures.files.landed()]
        newest = max(times, default=None)
        closed = _closed(book, figures, as_of, times)
        yield Week(figures, season, as_of, newest, with_families, {}, book, for_organisation, closed)


def _closed(
    book: Book, figures: Figures, as_of: date, times: list[datetime]
) -> dict[str, tuple[datetime | None, Season]]:
    """Of each closed troop the newest landing by its close, and the season's rules as they were known then."""
    rows = [row for row in figures.rows("closing", as_of) if row["close_no"] is not None]
    if not rows:
        return {}
    with book.reading() as con:
        seasons = {at: publishing.season_known(book, con, at) for at in {row["closed_known_on"] for row in rows}}
    return {
        row["troop"]: (
            max((time for time in times if time <= row["closed_known_on"]), default=None),
            seasons[row["closed_known_on"]],
        )
        for row in rows
    }


def latest_day(book: Book) -> date:
    """The last week end up to which troops have reported, or the season's first where none has."""
    with book.reading() as con:
        figures = Figures(con, COORDINATOR)
        reported = [row["week_ending"] for row in figures.facts("submitted")]
        return max(reported, default=None) or figures.days()[0]


def _papers(week: Week, progress: Progress) -> Iterator[tuple[str, bytes]]:
    names = sorted(one.name for one in pkgutil.iter_modules(reports.__path__))
    modules = [importlib.import_module(f"{reports.__name__}.{name}") for name in names]
    makers = [module for module in modules if hasattr(module, "papers")]
    if week.for_organisation:
        makers = [module for module in makers if hasattr(module, "FOR_ORGANISATION")]
    makers.sort(key=lambda module: hasattr(module, "COMES_LATE"))
    expected = sum(module.expected(week) if hasattr(module, "expected") else 1 for module in makers)
    done = 0
    beside = ThreadPoolExecutor(os.cpu_count() or 1)
    try:
        for module in makers:
            if hasattr(module, "begin"):
                module.begin(week, beside)
        for module in makers:
            for path, content in module.papers(week):
                yield path, content
                done += 1
                progress("Making papers", min(done, expected), expected)
    finally:
        beside.shutdown(cancel_futures=True)
    progress("Making papers", expected, expected)


@contextmanager
def _figures(book: Book, viewer: Viewer, as_of: date, known_on: datetime | None) -> Iterator[tuple[Figures, Season]]:
    """Figures of the day and of every week end before it."""
    with book.reading() as con:
        season = publishing.season_known(book, con, known_on)
        published = Figures(con, viewer)
        if known_on is None and as_of in published.days():
            yield published, season
            return
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            compute(memory, season, [*_week_ends(season, as_of), as_of], known_on)
            yield Figures(memory, viewer), season
        finally:
            memory.close()


def _week_ends(season: Season, as_of: date) -> list[date]:
    ends = (season.week_ending(number) for number in range(1, season.week_number(as_of) + 1))
    return [end for end in ends if end < as_of]


def _held(landed: list[dict[str, Any]], as_of: date) -> tuple[str, ...]:
    """Names of files of which something is held that could count by the day, or that nobody could read as a table."""
    return tuple(
        file["name"]
        for file in landed
        if (_is_unread(file) and not file["is_dismissed"])
        or (file["units_held"] and (file["held_from"] or as_of) <= as_of)
    )


def _is_unread(file: dict[str, Any]) -> bool:
    return file["what"] in ("unknown", "foreign") and not file["rows_counted"] + file["rows_held"]


def _manifest(week: Week, files: Mapping[str, str], landed: list[dict[str, Any]]) -> dict[str, Any]:
    frame = week.season.season
    return {
        "season": frame.title,
        "area": frame.area,
        "as_of": week.as_of.isoformat(),
        "week": week.week_no,
        "known_on": _instant(week.known_on),
        "made_at": _instant(datetime.now(UTC).replace(tzinfo=None)),
        "region": terms(week.season),
        "versions": {name: version(name) for name in MAKERS},
        "files": files,
        "landed": [
            ({} if week.for_organisation else {"name": file["name"]})
            | {
                "sha256": file["sha256"].split("@")[0],
                "landed_at": _instant(file["landed_at"]),
                "rows_counted": file["rows_counted"],
                "rows_held": file["rows_held"],
            }
            for file in landed
        ],
    }


def _instant(at: datetime | None) -> str | None:
    return None if at is None else f"{at.isoformat()}Z"
