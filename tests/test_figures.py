"""standing, items and families of random seasons against the oracle, which shares no line with the tool.

MUSTERBOOK_SEASONS: how many more are tried than the chosen ones (4 unless set), from MUSTERBOOK_FIRST_SEASON on.
"""

import os
from collections.abc import Callable

import pytest
import season_files
import seasons
from oracle import Oracle
from trial import TABLES, Trial, accepted

CHOSEN = [1, 16, 39, 41, 119, 126]
"""Of 83 misreadings of the definitions, built into the oracle one by one, each changed a figure in one of these."""

FIRST = int(os.environ.get("MUSTERBOOK_FIRST_SEASON", "200"))
MORE = range(FIRST, FIRST + int(os.environ.get("MUSTERBOOK_SEASONS", "4")))


@pytest.mark.parametrize("seed", [*CHOSEN, *MORE])
def test_figures_equal_the_oracles(seed: int, new_trial: Callable[..., Trial]) -> None:
    """Every cell of the three tables, on every week's end, days between, and a day long after the season."""
    made = seasons.make(seed)
    trial = new_trial(made.text)
    season_files.write_csvs(trial.folder / "in/1 feeds", made.feeds)
    season_files.write_csvs(trial.folder / "in/2 drafts", made.drafts)
    season_files.write_csvs(trial.folder / "in/3 sheets", made.sheets)
    assert accepted(trial.take_in(trial.folder / "in"))
    oracle = Oracle(made.rules, made.tables)
    days = sorted({*made.weeks, *made.days(6)})
    got = trial.figures(days)
    for day in days:
        for name in TABLES:
            assert got[name, day] == oracle.table(name, day), f"{name} of {day}"
