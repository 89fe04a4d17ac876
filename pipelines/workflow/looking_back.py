"""Figures for readers: the published ones, or those of another day or as they were known earlier, made anew in memory.

Comes in: a book, a viewer, a day, a known-on time (UTC). Goes out: Figures, or a connection that holds the relations.

A roll-up of a day rests on every week's end up to it, so that the same book, week and known-on time give the same bytes
whatever was published in between. An earlier state is made in memory, of one day (to compare) or of all weeks published
then (for the screens): 1 to 2 s in the demo.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime

from pipelines.figures.computing import compute
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import Viewer
from pipelines.store import landed_tables
from pipelines.store.book import Book, now
from pipelines.store.engine import Connection
from pipelines.workflow.publishing import published_days, season_known


@contextmanager
def figures(
    book: Book, viewer: Viewer, as_of: date | None = None, known_on: datetime | None = None
) -> Iterator[Figures]:
    """The book's figures for a viewer: the published ones; for another day or known-on time (UTC), made anew."""
    with book.reading() as con:
        published = Figures(con, viewer)
        if known_on is None and (as_of is None or as_of in published.days()):
            yield published
            return
        season = season_known(book, con, known_on)
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            days = published_days(memory, season, now().date())
            if as_of:  # the weeks before it too: an exception says since when it has been found
                days = [*(day for day in days if day < as_of), as_of]
            compute(memory, season, days, known_on)
            yield Figures(memory, viewer)
        finally:
            memory.close()


@contextmanager
def looked_back(book: Book, known_on: datetime, as_of: date | None = None) -> Iterator[Connection]:
    """The book's relations as they were known (UTC): of one day alone, or of every week that was published then."""
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            season = season_known(book, memory, known_on)
            days = [as_of] if as_of else published_days(memory, season, known_on.date(), known_on)
            compute(memory, season, days, known_on)
            yield memory
        finally:
            memory.close()


@contextmanager
def as_if_open(book: Book, as_of: date, troop: str = "") -> Iterator[Connection]:
    """The book's relations of a day as they would be were a troop, or every one, opened again."""
    with book.holding() as snapshot:
        memory = landed_tables.look_back(snapshot)
        try:
            memory.execute(
                "create or replace view landed.agreements as from snapshot.landed.agreements "
                f"where kind not in ('close', 'reopen') or troop <> {_quoted(troop) if troop else 'troop'}"
            )
            compute(memory, season_known(book, memory, None), [as_of])
            yield memory
        finally:
            memory.close()


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
