"""The season's rules changed by form or as text: what it would do to published figures, then kept.

Comes in: a book, what is to be changed. Goes out: figures that would move; the book with its new rules, published. The
file is written only once it is whole and no row that is in speaks against it; two people at once lose nothing.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from pipelines.definitions.errors import BrokenSeason, Busy
from pipelines.definitions.measures import RELATIONS
from pipelines.definitions.season import Season, read_season
from pipelines.definitions.season_text import Edits, merged
from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.store import landed_tables
from pipelines.store.book import Book, now, write_whole
from pipelines.workflow import take_in
from pipelines.workflow.publishing import published_days

WAIT = 30.0
BOM = "\ufeff"


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure of the area that would be another: its measure, as it is published, as it would be."""

    measure: str
    now: Any
    then: Any


def stated(book: Book) -> str:
    """The text of the book's season.toml as it lies there; raises BrokenSeason where it is no text."""
    try:
        return book.season_file.read_bytes().decode("utf-8").removeprefix(BOM)
    except UnicodeDecodeError as fault:
        raise BrokenSeason("season.toml is not UTF-8 text: save it as UTF-8.") from fault


def foreseen(book: Book, season: Season) -> tuple[date, list[Moved]]:
    """Which figures of the area a season would move, as of the latest day; raises BrokenSeason where rows forbid it."""
    with book.reading() as con:
        before = Figures(con, COORDINATOR)
        as_of = before.days()[-1]
        was = _area(before, as_of)
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            take_in.held_against(memory, season)
            days = published_days(memory, season, now().date())
            compute(memory, season, [day for day in days if day < as_of] + [as_of])
            will = _area(Figures(memory, COORDINATOR), as_of)
        finally:
            memory.close()
    return as_of, [Moved(name, was.get(name), will.get(name)) for name in was if was.get(name) != will.get(name)]


def _area(figures: Figures, as_of: date) -> dict[str, Any]:
    rows = figures.rows("area", as_of)
    return {name: rows[0][name] for name in RELATIONS["area"] if name in rows[0]} if rows else {}


def keep(book: Book, base: str, edits: Edits, who: str) -> Season:
    """Writes edits that somebody began from the text `base` into the season as it is now; publishes. Raises Stop."""
    with book.writing(wait=WAIT) as con:
        season = merged(read_season(base), read_season(stated(book)), edits)
        take_in.held_against(con, season)
        _write(book, season.text)
    _publish(book, who)
    return season


def keep_text(book: Book, base: str, text: str, who: str) -> Season:
    """Writes the whole season as text, where it is still `base`; publishes. Raises Stop."""
    season = read_season(text)
    with book.alone(wait=WAIT):
        if stated(book) != base:
            raise BrokenSeason("Somebody else changed the season's rules meanwhile. Look at them again.")
        _write(book, text)
    try:
        _publish(book, who)
    except BrokenSeason:
        with book.alone(wait=WAIT):
            _write(book, base)
        raise
    return season


def _write(book: Book, text: str) -> None:
    has_mark = book.season_file.read_bytes().startswith(BOM.encode())
    write_whole(book.season_file, f"{BOM if has_mark else ''}{text}".encode())


def _publish(book: Book, who: str) -> None:
    if not take_in.refresh(book, who, wait=WAIT):
        raise Busy("The rules are kept; somebody is writing in this book, and the figures follow when that is done.")
