"""The exceptions of random seasons: exactly those that plain loops name, and each adds up to its evidence."""

import os
import random
from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pytest
import season_files
import seasons
from plain_rules import Plain
from slips import Planter
from trial import Trial

from pipelines.definitions.exception_rules import rules
from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back, take_in

SEEDS = [3, 7, 41, 119]
FIRST = int(os.environ.get("MUSTERBOOK_FIRST_SEASON", "200"))
MORE = range(FIRST, FIRST + int(os.environ.get("MUSTERBOOK_SEASONS", "1")))
SEEN: Counter[str] = Counter()  # rules that some season tripped


@dataclass
class Tried:
    """A random season, its exceptions as the tool lists them for every week, and the plain rules."""

    plain: Plain
    rows: list[dict[str, Any]]


def with_receipts(made: seasons.Made) -> None:
    """Troops also say what they received: mostly what the feed says, sometimes not."""
    dice = random.Random(made.seed + 2)  # noqa: S311 - dice for a test
    for row in made.tables["stock"]:
        own = [s["packages"] for s in made.tables["supply"] if (s["troop"], s["item"]) == (row["troop"], row["item"])]
        row["received"] = dice.choice([None, None, 0, 12, *own])


@pytest.fixture(scope="module", params=[*SEEDS, *MORE])
def tried(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Tried:
    """Earlier versions of some rows first, then those that hold: resubmissions are part of it."""
    made = seasons.make(request.param, troops=7)
    with_receipts(made)
    Planter(made).plant()
    trial = Trial(tmp_path_factory.mktemp("season"), made.text)
    for place, tables in enumerate((made.drafts, made.tables)):
        season_files.write_csvs(trial.folder / f"in/{place}", tables)
    for one in trial.take_in(trial.folder / "in"):
        if one.status != "taken in":  # a version that shares no row with the one before, by a slip that was planted
            take_in.answer(trial.book, one.file_no, "replaces", "tests")
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        return Tried(Plain(made), [row for day in made.weeks for row in figures.rows("exceptions", day)])


def test_exactly_those_that_plain_loops_name(tried: Tried) -> None:
    """Rule, troop, subject and what is at stake, for every week's end; none more, none fewer."""
    for day in tried.plain.weeks:
        listed = {
            (row["rule"], row["troop"], row["subject"]): row["at_stake"] for row in tried.rows if row["as_of"] == day
        }
        assert listed == tried.plain.exceptions(day), f"as of {day}"
        SEEN.update(rule for rule, _troop, _subject in listed)


def test_what_is_at_stake_is_what_the_evidence_adds_up_to(tried: Tried) -> None:
    """To the cent; where nothing is at stake no piece of evidence has an amount."""
    for row in tried.rows:
        amounts = [piece["amount"] for piece in row["evidence"] if piece["amount"] is not None]
        assert row["at_stake"] == (sum(amounts, Decimal(0)) if amounts else None), row
        assert row["evidence"], row


def test_first_seen_is_where_the_unbroken_run_begins(tried: Tried) -> None:
    """Counted back from each week to the first one in which it was not found."""
    on = {(row["rule"], row["troop"], row["subject"], row["as_of"]) for row in tried.rows}
    for row in tried.rows:
        key, weeks = (row["rule"], row["troop"], row["subject"]), tried.plain.weeks
        place = weeks.index(row["as_of"])
        first = place
        while first and (*key, weeks[first - 1]) in on:
            first -= 1
        assert (row["first_seen"], row["weeks_open"]) == (weeks[first], place - first + 1)
        assert row["is_new"] == (first == place)


def test_sentences_are_whole(tried: Tried) -> None:
    """Every sentence is there, ends with a full stop and names no blame."""
    for row in tried.rows:
        for name in ("what", "next_step", "ask"):
            assert row[name], (row["rule"], name)
            assert row[name].endswith((".", "?")), row[name]
            assert not {"loss", "stolen", "theft", "fault", "failed", "guilty", "none"} & set(
                row[name].lower().split()
            ) - {"none"}


def test_the_seasons_trip_most_rules() -> None:
    """The random seasons are no empty ground: they trip these rules, and so the comparison says something."""
    print(dict(SEEN))
    assert len(SEEN) >= 28
    assert {name for name, rule in rules().items() if rule.is_slip} <= SEEN.keys()
