"""Orders and moves: the plan in a sentence, a move taken up, what came differently; the outlook where it is shown."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from shown_screens import SIX, figures, sound, table, text
from streamlit.testing.v1 import AppTest

from dashboard.parts import outlook_charts
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.messages.looking_ahead import drives, outlook_sentence, plan_sentence
from pipelines.store.book import Book

Open = Callable[..., AppTest]


@pytest.fixture
def own_book(demo_book: Book, tmp_path: Path) -> Book:
    """The demo's book to write in."""
    shutil.copytree(demo_book.folder, tmp_path / "book")
    return Book(tmp_path / "book")


def test_the_plan_in_a_sentence_and_its_rows(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "orders")
    plan, cells = figures(demo_book, "plan"), figures(demo_book, "plan_cells")
    short = sum(row["short"] for row in cells)
    said = text(at)
    assert plan_sentence(plan, short) in said
    fetched = table(at, "Cases", "Why")
    assert fetched["Cases"].tolist() == [row["cases"] for row in plan if row["kind"] != "move"]
    assert len(drives(plan)) >= 1
    for rows in drives(plan):
        assert all(row["reason"] in said for row in rows)
    (area,) = [row for row in figures(demo_book, "outlook") if row["troop"] is None and row["item"] is None]
    assert outlook_sentence(area, "18 April") in said
    assert "Ranges for the coming week held" in said


def test_the_plan_is_of_the_latest_week(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "orders", week="4")
    assert "The plan is made for the latest week." in text(at)


def test_a_move_taken_up_stands_with_both_troops(own_book: Book, screen: Open) -> None:
    """Nothing is posted: on hand stays what it was."""
    at = screen(own_book, "orders")
    before = figures(own_book, "items")
    first = drives(figures(own_book, "plan"))[0]
    at = sound(at.button(key=f"agree_{first[0]['drive']}").click().run())
    assert "Agreed; it stands under Follow up with both troops" in text(at)
    with own_book.reading() as con:
        rows = [row for row in Figures(con, COORDINATOR).rows("exceptions", SIX) if row["rule"] == "move_agreed"]
    assert {row["troop"] for row in rows} == {code for row in first for code in (row["giver"], row["receiver"])}
    assert len(rows) == 2 * len(first)
    assert figures(own_book, "items") == before


def test_before_the_season_and_what_came_differently(own_book: Book, screen: Open) -> None:
    at = screen(own_book, "orders")
    at.session_state["before"] = True
    at = sound(at.run())
    orders, terms = figures(own_book, "opening"), figures(own_book, "opening_terms")
    assert f"{len(orders)} opening orders of" in text(at)
    assert "vehicles; fewer than" in text(at)
    ordered = next(row for row in terms if row["ordered"] > 2)
    at.selectbox(key="came_troop").set_value(ordered["troop"])
    at.selectbox(key="came_item").set_value(ordered["item"])
    at.number_input(key="came_packages").set_value(ordered["ordered"] - 2)
    at = sound(next(one for one in at.button if one.label == "Write it down").click().run())
    assert "written down" in text(at)
    [row] = [row for row in figures(own_book, "exceptions") if row["rule"] == "delivery_differs"]
    assert (row["troop"], row["subject"], row["packages"]) == (ordered["troop"], ordered["item"], 2)


@pytest.mark.parametrize("name", ["this_week", "stock", "troop"])
def test_the_outlook_stands_where_it_is_asked_for(demo_book: Book, screen: Open, name: str) -> None:
    at = screen(demo_book, name, troop="0417")
    troop = "0417" if name == "troop" else None
    (row,) = [row for row in figures(demo_book, "outlook") if row["troop"] == troop and row["item"] is None]
    assert outlook_sentence(row, "18 April") in text(at)


def test_pictures_say_the_same_in_words(demo_book: Book) -> None:
    rows = [row for row in figures(demo_book, "outlook") if row["troop"] == "0417"]
    whole = next(row for row in rows if row["item"] is None)
    weeks = [{"week_no": 1, "sold_from_stock": 100}, {"week_no": 6, "sold_from_stock": 700}]
    end = outlook_charts.band(whole, 700)[-1]
    assert (end["week"], end["low"], end["high"]) == (10, 700 + whole["low"], 700 + whole["high"])
    said = outlook_charts.season_words(weeks, whole, 900, [3])
    assert "700 packages have gone out of stock up to week 6" in said
    assert "The goals set add up to 900. Not sent: week 3." in said
    assert f"{rows[0]['low']:,.0f} to {rows[0]['high']:,.0f}" in outlook_charts.ranges_words(rows, "item")
