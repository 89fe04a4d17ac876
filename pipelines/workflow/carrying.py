"""The next season's book, begun with what this one knows and nobody has to type again.

Comes in: a book, a new folder, the people chosen. Goes out: a book with this season.toml moved by 52 weeks (a week goes
on ending on its day), the mappings, and as files taken in: the troops by code, level and town, last season by week and
item, places and how they did, awards earned. No participant's money or note comes along, and nobody may sign in who was
not named.
"""

import csv
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from pipelines.accounts.accounts import Access, Person
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season, read_season
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.store.book import Book, made_aside, new_book
from pipelines.workflow import looking_back, take_in

A_YEAR = timedelta(weeks=52)
ISO_DAY = re.compile(r"\b(\d{4})-(\d{2})-(\d{2})\b")
TITLE = re.compile(r'^(\s*title\s*=\s*")([^"]*)(")', re.MULTILINE)
YEAR = re.compile(r"\b20\d\d\b")
Row = dict[str, Any]
Table = tuple[Sequence[str], list[Row]]


@dataclass(frozen=True, slots=True)
class Carried:
    """The new book, its season, how many rows of each table came along, each person's new code by name."""

    book: Book
    season: Season
    rows: dict[str, int]
    codes: dict[str, str]


def may_sign_in(book: Book) -> list[Person]:
    """The people of a book who could be taken along."""
    return [one for one in Access(book.folder).people() if not one.withdrawn]


def carry(
    book: Book, folder: Path, who: str, people: Iterable[str] = (), *,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> Carried:  # fmt: skip
    """Makes the next season's book in a new or empty folder; raises Stop where somebody named has no account."""
    known = {one.name: one for one in may_sign_in(book)}
    chosen = list(dict.fromkeys(people))
    if unknown := [name for name in chosen if name not in known]:
        raise Stop(f"{', '.join(unknown)}: no account in this book. `musterbook access list` shows them.")
    with looking_back.figures(book, COORDINATOR) as figures:
        tables = {name: table for name, table in _tables(figures, book.season()) if table[1]}
    text = moved_on(book.season_file.read_text(encoding="utf-8-sig"))
    season = read_season(text)
    with made_aside(folder) as making:
        made = new_book(making, text)
        for path in sorted(book.mappings.glob("*.toml")):
            (made.mappings / path.name).write_bytes(path.read_bytes())
        with tempfile.TemporaryDirectory(prefix="musterbook-carried-") as aside:
            here = Path(aside) / "from the season before"
            here.mkdir()
            for name, (columns, rows) in tables.items():
                _write(here / f"{name}.csv", columns, rows)
            take_in.ingest(made, [here], who, on_wait=on_wait)
        codes = _let_in(made, [known[name] for name in chosen], who)
    return Carried(Book(folder), season, {name: len(rows) for name, (_columns, rows) in tables.items()}, codes)


def moved_on(text: str) -> str:
    """A season.toml's text with every day 52 weeks later, its comments kept; years in titles follow the first day."""
    before = read_season(text).season.first_day
    years = (before + A_YEAR).year - before.year

    def title(found: re.Match[str]) -> str:
        return found[1] + YEAR.sub(lambda year: str(int(year[0]) + years), found[2]) + found[3]

    return TITLE.sub(title, ISO_DAY.sub(_a_year_on, text))


def _a_year_on(found: re.Match[str]) -> str:
    try:
        return (date.fromisoformat(found[0]) + A_YEAR).isoformat()
    except ValueError:
        return found[0]  # a remark, no day


def _tables(figures: Figures, season: Season) -> Iterator[tuple[str, Table]]:
    troops = figures.facts("troops")
    yield "troops", (("troop", "level", "town", "closed_on"), troops)
    yield "last_season", (("troop", "week_no", "participants", "packages", "item"), _by_week(figures, season))
    places = [row | {name: row[name] and row[name] + A_YEAR for name in ("from_on", "until_on")}
              for row in figures.stalls.places()]  # fmt: skip
    yield "places", (("place", "title", "town", "from_on", "until_on", "prime"), places)
    yield "places_before", (("place", "stalls", "middle_takings", "middle_takings_an_hour"), _yields(figures))
    yield "awards_before", (("troop", "participant", "award"), _awards(figures))


def _yields(figures: Figures) -> list[Row]:
    """How the stalls of each place of the list did: this season's where enough are known, else the one's before."""
    listed = {row["place"] for row in figures.stalls.places()}
    known = {row["place"]: row for row in figures.stalls.places_before() if row["place"] in listed}
    for row in figures.rows("place_yields", figures.days()[-1]):
        if not row["part_of_day"] and row["takings"] is not None and row["place"] in listed:
            hour = row["takings_an_hour"]
            known[row["place"]] = {
                "place": row["place"], "stalls": row["stalls"], "middle_takings": f"{row['takings']:.2f}",
                "middle_takings_an_hour": "" if hour is None else f"{hour:.2f}",
            }  # fmt: skip
    return [known[place] for place in sorted(known)]


def _awards(figures: Figures) -> list[Row]:
    """Awards earned, by code: in this season and in those before it."""
    rows = figures.facts("awards_before")
    rows += [row for row in figures.rows("awards", figures.days()[-1]) if row["state"] == "earned"]
    named = {(row["troop"], row["participant"], row["award"]): row for row in rows}
    return [named[key] for key in sorted(named)]


def _by_week(figures: Figures, season: Season) -> list[Row]:
    """What each troop had sold up to each week of the season that it sent anything in: of all items, and of each."""
    days = [day for day in figures.days() if day in season.week_endings]
    rows: list[Row] = []
    for week_no, day in ((season.week_number(day), day) for day in days):
        standing = {row["troop"]: row for row in figures.rows("standing", day)}
        for troop, row in standing.items():
            head = {"troop": troop, "week_no": week_no, "participants": row["registered"]}
            rows.append(head | {"packages": row["packages_sold"], "item": ""})
        for item in figures.rows("items", day):
            packages = item["handed_out"] + item["stall"] + item["remote"]
            people = standing[item["troop"]]["registered"]
            rows.append({"troop": item["troop"], "week_no": week_no, "participants": people, "packages": packages,
                         "item": item["item"]})  # fmt: skip
    return rows


def _write(path: Path, columns: Sequence[str], rows: list[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, columns, extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _let_in(book: Book, people: Sequence[Person], who: str) -> dict[str, str]:
    access = Access(book.folder)
    with closing(access.store):
        return {one.name: access.add(one.name, one.role, one.troops, by=who, email=one.email) for one in people}
