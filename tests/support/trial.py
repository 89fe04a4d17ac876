"""A book to try things on: rows in as a test writes them, figures out as text.

Comes in: a folder, a season's text, rows. Goes out: what became of each file, and the tables of any day.
"""

import csv
import io
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from copy import copy
from datetime import date, datetime
from functools import partial
from pathlib import Path

import pytest

from pipelines.figures.computing import STATISTICS, compute
from pipelines.figures.figures import STANDS_IN, Figures, Relation
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.follow_up import decisions
from pipelines.follow_up.decisions import note_changes
from pipelines.reports.csv_tables import table_text
from pipelines.store import landed_tables, relations
from pipelines.store.book import Book, new_book
from pipelines.workflow import publishing, take_in
from pipelines.workflow.publishing import season_known

TABLES = ("standing", "items", "families")
SEASON = """
[season]
title = "A small season"
area = "Test area"
first_day = 2027-02-08
last_day = 2027-03-21
week_ends_on = "sunday"

[[items]]
code = "GLA"
title = "Gladiolus bulbs"
price = "6.00"

[[items]]
code = "HRB"
title = "Kitchen herb kit"
price = "7.25"

[[items]]
code = "GIV"
title = "A bag for a community garden"
price = "6.00"
stocked = false

[[proceeds.tiers]]
from_average = 0
rate = "0.70"

[[proceeds.tiers]]
from_average = 20
rate = "0.85"

[[dues]]
on = 2027-03-12
share = "0.40"
cutoff = 2027-03-07

[[dues]]
on = 2027-03-26
share = "1"

[online]
ship_minimum = 4
answer_within_days = 5
"""
POSTAGE = """far = "3.00"

[[online.postage]]
up_to = 5
price = "8.00"

[[online.postage]]
up_to = 10
price = "12.00"
"""
"""What follows SEASON where the organisation asks for postage."""
W1, W2, W3 = date(2027, 2, 14), date(2027, 2, 21), date(2027, 2, 28)
Pages = dict[tuple[str, date], list[dict[str, str]]]
Lines = dict[tuple[str, str], dict[str, str]]


FEEDS = {
    "troops": """
        troop  level
        0417   younger
        0031   older
        1282   older""",
    "roster": """
        troop  participant  registered_on  left_on  contact_on_file
        0417   0417-01      2026-10-01     -        yes
        0417   0417-02      2026-10-01     -        yes
        0031   0031-01      2026-10-01     -        no""",
}
"""The smallest feeds: troops 0417, 0031 and 1282, three participants."""


def rows_of(text: str) -> list[dict[str, str]]:
    """Rows written as a table: columns apart by spaces, `-` is an empty cell, `~` a space within one."""
    header, *lines = [line.split() for line in text.strip().splitlines()]
    return [
        dict(zip(header, ["" if cell == "-" else cell.replace("~", " ") for cell in line], strict=True))
        for line in lines
    ]


class Trial:
    """One book in a folder of its own.

    What comes in is published once somebody asks for `book`, and at every sending from then on. Until then figures are
    computed from what has landed, and only the tables that are asked for: most tests need no more, in a quarter of the
    time.
    """

    def __init__(self, folder: Path, season: str = SEASON) -> None:
        self.folder = folder
        self._book = new_book(folder / "book", season)
        self._is_asked_for = False
        self._sent = 0

    @property
    def book(self) -> Book:
        """The book, with all that came in published."""
        if not self._is_asked_for:
            self._is_asked_for = True
            if self._sent:
                take_in.refresh(self._book, "tests")
        return self._book

    def begin_with(self, other: Path) -> None:
        """Copies another book into this one, which is new."""
        shutil.copytree(other, self._book.folder, dirs_exist_ok=True)

    def copied_to(self, folder: Path) -> "Trial":
        """The same once more, in an empty folder, to write in."""
        shutil.copytree(self.folder, folder, dirs_exist_ok=True)
        other = copy(self)
        other.folder, other._book = folder, Book(folder / "book")
        return other

    def send(self, **tables: str) -> list[take_in.Outcome]:
        """Takes in tables written as rows_of reads them, each as a CSV file, in one go."""
        folder = self.folder / f"sent {self._sent + 1}"
        folder.mkdir()
        for name, text in tables.items():
            rows = rows_of(text)
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
                writer = csv.DictWriter(out, list(rows[0]))
                writer.writeheader()
                writer.writerows(rows)
        return self.take_in(folder)

    def take_in(self, *paths: Path) -> list[take_in.Outcome]:
        """Takes in files and folders as they are."""
        self._sent += 1
        return take_in.ingest(self._book, paths, "tests", publishes=self._is_asked_for)

    def figures(self, days: Iterable[date], known_on: datetime | None = None) -> Pages:
        """standing, items and families of several days, computed in one go from what has landed."""
        days = list(days)
        with self.asked(*TABLES, days=days, known_on=known_on) as figures:
            return {(name, day): as_rows(table_text(figures, name, day)) for name in TABLES for day in days}

    def table(self, name: Relation, day: date, known_on: datetime | None = None) -> Lines:
        """One table of a day, by its two leading columns."""
        with self.asked(name, days=[day], known_on=known_on) as figures:
            rows = as_rows(table_text(figures, name, day))
        return {(row["troop"], next(iter(list(row.values())[1:2]))): row for row in rows}

    def standing(self, troop: str, day: date) -> dict[str, str]:
        """A troop's line of standing.csv."""
        return self.table("standing", day)[troop, day.isoformat()]

    @contextmanager
    def asked(
        self,
        *names: Relation | str,
        days: list[date],
        known_on: datetime | None = None,
        viewer: Viewer = COORDINATOR,
    ) -> Iterator[Figures]:
        """Some relations of some days, made of what has landed, in memory, through the readers' door; those that it
        does not know by their full names."""
        only = frozenset(name if "." in name else STANDS_IN.get(name, f"measures.{name}") for name in names)
        memory = landed_tables.look_back(self._book.warehouse_file)
        try:
            compute(memory, season_known(self._book, memory, known_on), days, known_on, only)
            yield Figures(memory, viewer)
        finally:
            memory.close()


@contextmanager
def publishes(*relations: str) -> Iterator[None]:
    """Until it ends a publishing makes these relations and what they rest on, none, or `everything`.

    What is asked for and not made is not there, which fails. It is a fifth of the work.
    """
    only = None if "everything" in relations else frozenset(relations)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(publishing, "compute", partial(compute, only=only))
        patch.setattr(decisions, "note_changes", note_changes if only is None else lambda _con, _made: None)
        yield


@contextmanager
def rules_alone(*rules: str) -> Iterator[None]:
    """Until it ends there are these rules, what they find and is decided about it, and what that rests on.

    What is asked for beside is not there, which fails. Rules that read what all found are there too.
    """
    relations.mark()  # the program's, told while it is whole
    whole = dict(relations.ordered_relations())
    wanted = {f"exceptions.{name}" for name in rules}
    union = "\nunion all by name\n".join(relations.as_found(name.partition(".")[2], name) for name in sorted(wanted))
    whole |= {relations.FOUND: union}
    asked = frozenset(name for name in whole if name.startswith("follow_up."))
    rests_on = relations._resting_on.__wrapped__  # what it remembers is of all rules
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(relations, "_resting_on", rests_on)
        patch.setattr(relations, "ordered_relations", lambda: tuple(whole.items()))
        kept = tuple(rests_on(asked, tuple((name, one.takes) for name, one in STATISTICS.items())).items())
        patch.setattr(relations, "ordered_relations", lambda: kept)
        yield


def as_rows(text: str) -> list[dict[str, str]]:
    """A CSV table's rows."""
    return list(csv.DictReader(io.StringIO(text)))


def accepted(outcomes: Iterable[take_in.Outcome]) -> bool:
    """Whether every file was taken in with nothing to mend."""
    return all(one.status == "taken in" and all(f.is_note for f in one.findings) for one in outcomes)
