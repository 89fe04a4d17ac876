"""What must not matter: the order of files, how tables are cut, in which form they come, what comes later, and repeats.

Each season here is small; after each path its figures must be the oracle's of the rows that hold.
MUSTERBOOK_SEASONS_A_PROPERTY: how many seasons each property is tried on (1 unless set).
"""

import os
import random
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import season_files
import seasons
from oracle import Oracle
from seasons import SHEETS, Made, Row
from trial import TABLES, Trial, accepted, as_rows

from pipelines.reports.csv_tables import table_text
from pipelines.store.book import now

NewTrial = Callable[..., Trial]


def seeds(first: int) -> range:
    """The seeds of one property."""
    return range(first, first + int(os.environ.get("MUSTERBOOK_SEASONS_A_PROPERTY", "1")))


def small(seed: int) -> Made:
    """A season of three troops and three weeks or five."""
    return seasons.make(seed, troops=3, weeks=3)


def agree(trial: Trial, made: Made) -> None:
    """Holds every table of several days against the oracle."""
    oracle, days = Oracle(made.rules, made.tables), sorted({*made.weeks, *made.days()})
    got = trial.figures(days)
    for day in days:
        for name in TABLES:
            assert got[name, day] == oracle.table(name, day), f"{name} of {day}"


def pieces(made: Made, dice: random.Random) -> list[tuple[str, list[Row]]]:
    """Every table cut into small ones: sheets between troop-weeks, feeds anywhere."""
    cut = []
    for name, rows in made.tables.items():
        groups: dict[object, list[Row]] = {}
        for row in rows:
            key = (row["troop"], row["week_ending"]) if name in SHEETS else dice.randrange(3)
            groups.setdefault(key, []).append(row)
        cut += [(name, group) for group in groups.values()]
    dice.shuffle(cut)
    return cut


@pytest.mark.parametrize("seed", seeds(500))
def test_neither_order_nor_cut_matters(seed: int, new_trial: NewTrial) -> None:
    """Pieces in any order, in several goes, sheets before the feeds that name their troops: the same figures."""
    made, dice = small(seed), random.Random(seed)  # noqa: S311 - dice for a test
    trial = new_trial(made.text)
    cut = pieces(made, dice)
    for go in range(3):
        folder = trial.folder / f"go {go}"
        folder.mkdir()
        for number, (name, rows) in enumerate(cut[go::3]):
            season_files.write_csv(folder / f"{number} {name}.csv", rows)
        trial.take_in(folder)
    agree(trial, made)


@pytest.mark.parametrize("seed", seeds(510))
def test_taking_in_twice_changes_nothing(seed: int, new_trial: NewTrial) -> None:
    """The same bytes are told as known; the same rows in other bytes (another order) count once."""
    made, dice = small(seed), random.Random(seed)  # noqa: S311 - dice for a test
    trial = new_trial(made.text)
    season_files.write_csvs(trial.folder / "in", made.tables)
    assert accepted(trial.take_in(trial.folder / "in"))
    assert {one.status for one in trial.take_in(trial.folder / "in")} == {"already taken in"}
    mixed = {name: dice.sample(rows, len(rows)) for name, rows in made.tables.items()}
    season_files.write_csvs(trial.folder / "again", mixed)
    trial.take_in(trial.folder / "again")
    agree(trial, made)


def write_bulk(folder: Path, sheets: dict[str, list[Row]]) -> None:
    folder.mkdir(parents=True)
    season_files.write_bulk_workbook(folder / "all.xlsx", sheets)


FORMS = {
    "workbooks": season_files.write_workbooks,
    "parquet": season_files.write_parquets,
    "one workbook": write_bulk,
}


@pytest.mark.parametrize("seed", seeds(520))
@pytest.mark.parametrize("form", FORMS)
def test_the_form_does_not_matter(form: str, seed: int, new_trial: NewTrial) -> None:
    """Troops' workbooks, Parquet tables and one workbook of bulk sheets say what the CSV tables say."""
    made = small(seed)
    trial = new_trial(made.text)
    feeds = season_files.write_csvs if form == "workbooks" else FORMS[form]
    feeds(trial.folder / "in/1", made.feeds)
    FORMS[form](trial.folder / "in/2", made.sheets)
    assert accepted(trial.take_in(trial.folder / "in"))
    agree(trial, made)


def known_by(made: Made, day: date) -> dict[str, list[Row]]:
    """The rows that can be known on a day: weeks that ended, states, announcements and dates up to it."""
    early = {name: [row for row in rows if row["week_ending"] <= day] for name, rows in made.sheets.items()}
    early |= {name: list(rows) for name, rows in made.feeds.items()}
    for name, column in (("supply", "date"), ("adjustments", "date"), ("collections", "announced_on"),
                         ("remittances", "state_on"), ("roster", "registered_on")):  # fmt: skip
        early[name] = [row for row in early[name] if row[column] <= day]
    early["roster"] = [
        row | {"left_on": None} if row["left_on"] and row["left_on"] > day else row for row in early["roster"]
    ]
    first: dict[tuple[str, str], date] = {}
    for row in made.tables["online_orders"]:
        key = (row["order"], row["item"])
        first[key] = min(first.get(key, date.max), row["state_on"])
    early["online_orders"] = [
        row for row in made.tables["online_orders"]
        if row["state_on"] <= day or (row["placed_on"] <= day and row["state_on"] == first[row["order"], row["item"]])
    ]  # fmt: skip
    return early


@pytest.mark.parametrize("seed", seeds(530))
def test_an_earlier_day_stays_as_it_was(seed: int, new_trial: NewTrial) -> None:
    """Later weeks, states, announcements and leavers do not change the figures of a day before them."""
    made = small(seed)
    trial = new_trial(made.text)
    day = made.weeks[1]
    season_files.write_csvs(trial.folder / "early", known_by(made, day))
    season_files.write_csvs(trial.folder / "late", made.tables)
    assert accepted(trial.take_in(trial.folder / "early"))
    before = trial.figures([day])
    trial.take_in(trial.folder / "late")
    assert trial.figures([day]) == before
    assert trial.figures([made.weeks[-1]]) != before


@pytest.mark.parametrize("seed", seeds(540))
def test_the_book_as_it_was_known_on_an_earlier_day(seed: int, new_trial: NewTrial) -> None:
    """What was known before newer versions came can still be read, and is no longer what holds."""
    made = small(seed)
    first = made.feeds | {name: made.drafts[name] or made.sheets[name][:5] for name in SHEETS}
    trial = new_trial(made.text)
    season_files.write_csvs(trial.folder / "first", first)
    season_files.write_csvs(trial.folder / "then", made.sheets)
    assert accepted(trial.take_in(trial.folder / "first"))
    known_on, day = now(), made.weeks[-1]
    trial.take_in(trial.folder / "then")
    oracle = Oracle(made.rules, first)
    with trial.asked(*TABLES, days=[day], known_on=known_on) as figures:
        for name in TABLES:
            assert as_rows(table_text(figures, name, day)) == oracle.table(name, day)
    agree(trial, made)
