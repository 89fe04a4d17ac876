"""The outlook and the plan as tables of a roll-up and on the terminal: the figures of the book, and nothing posted."""

import csv
import io
from datetime import date

from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.reports.looking_ahead import papers, plan_of
from pipelines.reports.rollup import week_of
from pipelines.store.book import Book

WEEK_5 = date(2027, 3, 14)


def test_tables_say_what_the_figures_say(demo_book: Book) -> None:
    """A row a troop and item, a troop, an item, and the area; the plan adds up to what is there."""
    with week_of(demo_book, WEEK_5) as week:
        written = dict(papers(week))
        assert written.pop("plan.pdf").startswith(b"%PDF")
        made = {path: list(csv.DictReader(io.StringIO(content.decode()))) for path, content in written.items()}
        plan, items, standing = plan_of(week), week.items, week.standing
        ahead = week.figures.rows("outlook", WEEK_5)
    stocked = {row["item"] for row in ahead if row["item"]}
    assert len(made["outlook.csv"]) == len(ahead) == (len(standing) + 1) * (len(stocked) + 1)
    first = made["outlook.csv"][0]
    [area] = [row for row in ahead if row["troop"] is None and row["item"] is None]
    assert (first["troop"], first["item"], float(first["mean"])) == ("", "", round(area["mean"], 6))
    assert int(first["low"]) == area["low"] < area["mean"] < area["high"] == int(first["high"])
    moved = [row for row in plan if row["kind"] == "move"]
    assert [row["reason"] for row in moved] == [row["reason"] for row in made.get("plan-moves.csv", [])]
    for row in moved:
        has = next(one for one in items[row["giver"]] if one["item"] == row["item"])["on_hand_or_expected"]
        assert 0 < row["packages"] < has
    assert {row["cases"] > 0 for row in plan if row["kind"] == "fetch"} == {True}
    assert len(made["plan-fetch.csv"]) == len(plan) - len(moved) > 0


def test_the_commands_say_it_in_sentences(demo_book: Book) -> None:
    """Eight of ten, never at most; the plan is a proposal."""
    told = CliRunner().invoke(app, ["outlook", "0417", "--book", str(demo_book.folder)])
    assert told.exit_code == 0
    assert "Troop 0417 will probably sell about" in told.stdout
    assert "in 8 of 10 such cases between" in told.stdout
    assert "at most" not in told.stdout
    planned = CliRunner().invoke(app, ["plan", "--book", str(demo_book.folder)])
    assert planned.exit_code == 0
    assert "A proposal: both leaders agree to a move, and both report it." in planned.stdout
    unknown = CliRunner().invoke(app, ["outlook", "9999", "--book", str(demo_book.folder)])
    assert unknown.exit_code != 0
