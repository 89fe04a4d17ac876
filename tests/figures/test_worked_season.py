"""A worked season: eight invented troops, six weeks, and the tables that four days must give.

The expected tables were computed apart from the tool, by plain code in exact decimals, from the definitions.
"""

import csv
import io
from datetime import date
from pathlib import Path

import pytest

from pipelines.figures.figures import Relation
from pipelines.figures.viewer import COORDINATOR
from pipelines.reports.csv_tables import table_text
from pipelines.store.book import Book, new_book
from pipelines.workflow import looking_back, take_in

WORKED = Path(__file__).parents[1] / "fixtures" / "worked_season"
DAYS = sorted(date.fromisoformat(folder.name.removeprefix("expected-")) for folder in WORKED.glob("expected-*"))
TABLES: tuple[Relation, ...] = ("standing", "items", "families")


@pytest.fixture(scope="module", params=["submissions", "submissions-in-bulk"])
def worked(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The season taken in as workbooks, and as bulk tables; wrong first drafts of some weeks come before."""
    book = new_book(tmp_path_factory.mktemp("worked") / "book", (WORKED / "season.toml").read_text(encoding="utf-8"))
    for part in ("feeds", "submissions-in-bulk-first-drafts", request.param):
        assert {outcome.status for outcome in take_in.ingest(book, [WORKED / part], "test")} == {"taken in"}
    return book


def test_there_are_four_days() -> None:
    assert [f"{day:%m-%d}" for day in DAYS] == ["02-28", "03-14", "03-21", "04-18"]


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("day", DAYS, ids=str)
def test_every_figure_is_the_expected_one(worked: Book, day: date, table: Relation) -> None:
    with looking_back.figures(worked, COORDINATOR, as_of=day) as figures:
        got = list(csv.reader(io.StringIO(table_text(figures, table, day))))
    text = (WORKED / f"expected-{day}" / f"{table}.csv").read_text(encoding="utf-8")
    expected = list(csv.reader(io.StringIO(text)))
    width = len(expected[0])  # columns that came later stand at the end, and hold nothing in a season without them
    assert [row[:width] for row in got] == expected
    later = [row[width:] for row in got[1:]]
    if (
        table == "families"
    ):  # nothing promised, no stall credited, no household: progress is what was taken, not below 0
        assert {(promised, credit, household) for promised, credit, _progress, household in later} == {("0", "0", "")}
        assert [int(row[-2]) for row in got[1:]] == [max(int(r[2]) - int(r[3]), 0) + int(r[-6]) for r in got[1:]]
    else:
        assert {cell for row in later for cell in row[:3]} <= {"0.00"}  # gifts, fees, change
