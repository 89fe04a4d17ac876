"""standing, items and families of random seasons against the oracle, which shares no line with the tool.

MUSTERBOOK_SEASONS: how many more are tried than the chosen ones (2 unless set), from MUSTERBOOK_FIRST_SEASON on.

Six chosen seasons: 86 misreadings were built into the oracle one at a time; 83 change a figure in one of the six, three
are the same rule said otherwise. When seasons.py changes, choose anew. A long run: `MUSTERBOOK_SEASONS=200
MUSTERBOOK_SEASONS_A_PROPERTY=20 pytest tests/figures/test_figures.py tests/figures/test_properties.py`.
"""

import os
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import pytest
import season_files
import seasons
from oracle import Oracle
from trial import TABLES, Pages, Trial, accepted

CHOSEN = [1, 16, 39, 41, 119, 126]
"""Of 83 misreadings of the definitions, built into the oracle one by one, each changed a figure in one of these."""

FIRST = int(os.environ.get("MUSTERBOOK_FIRST_SEASON", "200"))
MORE = range(FIRST, FIRST + int(os.environ.get("MUSTERBOOK_SEASONS", "2")))
HELD = """on_hand_value damaged_value missing_value families_owe stall_short not_banked in_bank remitted float_out
    bank_fees""".split()


@dataclass
class Tried:
    """A random season taken in, and its figures on many days."""

    oracle: Oracle
    days: list[date]
    got: Pages


@pytest.fixture(scope="module", params=[*CHOSEN, *MORE])
def tried(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Tried:
    """Earlier versions of some rows, then those that hold; every week's end, days between, one long after."""
    made = seasons.make(request.param)
    trial = Trial(tmp_path_factory.mktemp("season"), made.text)
    season_files.write_csvs(trial.folder / "in/1 drafts", made.drafts)
    season_files.write_csvs(trial.folder / "in/2", made.tables)
    assert accepted(trial.take_in(trial.folder / "in"))
    days = sorted({*made.weeks, *made.days(6)})
    return Tried(Oracle(made.rules, made.tables), days, trial.figures(days))


def test_figures_equal_the_oracles(tried: Tried) -> None:
    """Every cell of the three tables."""
    for day in tried.days:
        for name in TABLES:
            assert tried.got[name, day] == tried.oracle.table(name, day), f"{name} of {day}"


def test_every_dollar_is_somewhere(tried: Tried) -> None:
    """What was available and sold online is on hand, owed, banked, paid or settled: nothing is left over."""
    for day in tried.days:
        for line in tried.got["standing", day]:
            had = Decimal(line["available_value"]) + Decimal(line["remote_value"]) + Decimal(line["gifts"])
            found = sum(Decimal(line[term]) for term in (*HELD, "paid_online", "settled_otherwise"))
            assert had == found, f"{line['troop']} on {day}"


def test_sums_of_the_parts_are_the_wholes(tried: Tried) -> None:
    """The ages of what is owed add up to it; items and families add up to the troop's line."""
    for day in tried.days:
        standing = {line["troop"]: line for line in tried.got["standing", day]}
        for line in standing.values():
            ages = [Decimal(value) for name, value in line.items() if name.startswith("past_due_")]
            assert sum(ages) == Decimal(line["past_due"])
            items = [row for row in tried.got["items", day] if row["troop"] == line["troop"]]
            families = [row for row in tried.got["families", day] if row["troop"] == line["troop"]]
            for column in ("available", "remote"):
                assert sum(int(row[column]) for row in items) == int(line[column])
            assert sum(Decimal(row["owes"]) for row in families) == Decimal(line["families_owe"])
        for row in tried.got["families", day]:
            ages = [Decimal(value) for name, value in row.items() if name.startswith("owes_")]
            assert sum(ages) == max(Decimal(row["owes"]), 0)
