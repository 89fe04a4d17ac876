"""Every screen, opened as the coordinator: no exception, and its figures are the measures'."""

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from shown_screens import figures, metrics, sound, table, text
from streamlit.testing.v1 import AppTest
from trial import Trial

from dashboard.parts import words
from dashboard.parts.screen_list import GROUPS, Screen, in_groups, screens_of
from demo_warehouse import make
from pipelines.store.book import Book, new_book
from pipelines.workflow import take_in

SCREENS = screens_of("coordinator")
Open = Callable[..., AppTest]


@pytest.fixture(scope="module")
def one_troop_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """An area of one troop in its second week."""
    folder = tmp_path_factory.mktemp("one troop")
    make(folder, troops=1, until_week=2, formats="bulk-csv")
    book = new_book(folder / "book", (folder / "season.toml").read_text(encoding="utf-8"))
    take_in.ingest(book, [folder / "inbox"], "tests")
    return book


@pytest.fixture(scope="module")
def empty_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """A book into which nothing has come yet."""
    book = Trial(tmp_path_factory.mktemp("empty")).book
    take_in.refresh(book, "tests")
    return book


@pytest.mark.parametrize("one", SCREENS, ids=lambda one: one.title)
def test_every_screen_opens(demo_book: Book, screen: Open, one: Screen) -> None:
    at = screen(demo_book, Path(one.file).stem)
    assert at.header[0].value == one.title
    assert "Figures as of Sunday 21 March 2027" in text(at)


@pytest.mark.parametrize("one", SCREENS, ids=lambda one: one.title)
def test_every_screen_of_one_troop_opens(one_troop_book: Book, screen: Open, one: Screen) -> None:
    (troop,) = [row["troop"] for row in figures(one_troop_book, "standing", date(2027, 2, 21))]
    screen(one_troop_book, Path(one.file).stem, troop=troop)


@pytest.mark.parametrize("one", SCREENS, ids=lambda one: one.title)
def test_every_screen_of_an_empty_book_opens(empty_book: Book, screen: Open, one: Screen) -> None:
    screen(empty_book, Path(one.file).stem)


@pytest.mark.parametrize("name", ["this_week", "who_owes", "stock", "taking_part", "troop", "submissions"])
def test_a_screen_without_figures_says_what_to_do(empty_book: Book, screen: Open, name: str) -> None:
    at = screen(empty_book, name)
    assert re.search(r"Take in the |Drop the troops list", text(at))


def test_every_screen_answers_a_question_and_stands_in_order() -> None:
    assert [one.title for one in SCREENS][:4] == ["This week", "Who owes", "Stock", "Taking part"]
    assert all(one.question.endswith(("?", ".")) for one in SCREENS)


def test_this_week_says_how_we_stand(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "this_week")
    (area,) = figures(demo_book, "area")
    said = text(at)
    assert f"{area['troops_submitted']} of {area['troops']} submissions in" in said
    assert f"{area['packages_sold']:,} packages sold" in said
    assert f"{words.money(area['past_due'])} past due in {area['troops_past_due']} troops" in said
    open_now = [row for row in figures(demo_book, "exceptions") if row["state"] == "open"]
    assert open_now
    assert f"{len(open_now)} things to follow up, {sum(row['is_new'] for row in open_now)} new" in said
    assert metrics(at)["Owed"] == words.money(area["owed"])
    assert words.money(area["available_value"] + area["remote_value"]) in said


def test_this_week_tells_what_changed(demo_book: Book, screen: Open) -> None:
    said = text(screen(demo_book, "this_week"))
    (now,), (before,) = figures(demo_book, "area"), figures(demo_book, "area", date(2027, 3, 14))
    change = now["packages_sold"] - before["packages_sold"]
    assert f"| Packages sold | {now['packages_sold']:,} | up {change:,} |" in said
    first = text(screen(demo_book, "this_week", week="1"))
    assert "This is the season's first week" in first


def test_this_week_names_the_dates_ahead_and_who_has_not_sent(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "this_week")
    standing = figures(demo_book, "standing")
    on = min(row["next_due_on"] for row in standing)
    asked = sum(row["next_due"] for row in standing if row["next_due_on"] == on)
    assert f"{words.day(on)}: {words.money(asked)} from" in text(at)
    assert f"Last day to bank: {words.day(words.last_day_to_bank(on))}." in text(at)
    unsent = sum(not row["submitted"] for row in standing)
    assert f"{words.plural(unsent, 'troop has', 'troops have')} not sent this week" in text(at)


def test_who_owes_shows_every_troop_with_its_amounts(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "who_owes")
    shown = table(at, "owed", "cover_said").set_index("troop")
    for row in figures(demo_book, "standing"):
        assert shown.loc[row["troop"], "owed"] == row["owed"]
        assert (shown.loc[row["troop"], "past_due"] or 0) == row["past_due"]
        said = shown.loc[row["troop"], "cover_said"]
        assert said == ("may not be covered" if row["cover"] < 0 else "covered")
        how = "estimated" if row["next_due_is_estimate"] else "announced"
        assert shown.loc[row["troop"], "next"] == f"{words.day(row['next_due_on'])}, {how}"


def test_who_owes_keeps_those_past_due(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "who_owes")
    sound(at.radio(key="owes_kept").set_value("Past due").run())
    owing = {row["troop"] for row in figures(demo_book, "standing") if row["past_due"] > 0}
    assert set(table(at, "owed", "cover_said")["troop"]) == owing


def test_choosing_a_troop_opens_it(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "who_owes")
    sound(at.selectbox(key="owes_open").set_value("0448").run())
    assert at.header[0].value == "A troop"
    assert at.query_params["troop"] == "0448"


def test_stock_shows_the_areas_items(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "stock")
    shown = table(at, "on_hand_said").set_index("item")
    for row in figures(demo_book, "item_totals"):
        assert shown.loc[row["item"], "available"] == row["available"]
        if row["is_stocked"]:
            full, rest = divmod(row["on_hand_or_expected"], row["packages_per_case"])
            assert (
                shown.loc[row["item"], "on_hand_said"] == f"{row['on_hand_or_expected']:,} ({full} cases and {rest})"
                or not rest
            )
    (area,) = figures(demo_book, "area")
    assert metrics(at)["Not accounted for"] == str(area["missing"])


def test_taking_part_shows_shares_with_their_limits(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "taking_part")
    shown = table(at, "share_low").set_index("troop")
    for row in figures(demo_book, "standing"):
        assert shown.loc[row["troop"], "share_low"] == pytest.approx(row["share_low"] * 100)
        assert shown.loc[row["troop"], "share_high"] == pytest.approx(row["share_high"] * 100)
    (area,) = figures(demo_book, "area")
    assert f"{area['registered_taking_part']} of {area['registered']}" in text(at)
    low = [row["troop"] for row in figures(demo_book, "comparisons") if row["measure"] == "share" and row["is_low"]]
    assert low
    assert f"{words.listed(low)} lie below what chance and size explain" in text(at)


@pytest.mark.parametrize("part", ["Weeks", "Items", "Families", "Dues", "Account", "Evidence"])
def test_a_troop_shows_everything(demo_book: Book, screen: Open, part: str) -> None:
    at = screen(demo_book, "troop", troop="0448")
    (row,) = [one for one in figures(demo_book, "standing") if one["troop"] == "0448"]
    assert metrics(at)["Owed"] == words.money(row["owed"])
    assert row["cover"] < 0
    assert metrics(at)["Cover"] == f"{words.money(-row['cover'])} lacking"
    sound(at.radio(key="troop_part").set_value(part).run())
    column = {
        "Weeks": "week", "Items": "supplied", "Families": "participant", "Dues": "due_on", "Account": "balance",
        "Evidence": "File",
    }[part]  # fmt: skip
    assert len(table(at, column))


def test_a_troop_that_is_not_there_is_no_dead_end(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "troop", troop="9999")
    assert "There is no such troop here" in text(at)
    assert "Choose a troop" in text(at)


def test_submissions_show_sent_held_and_missing(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "submissions")
    grid = table(at, "Troop", "Week 1").set_index("Troop")["Week 6"]
    for row in figures(demo_book, "submissions"):
        mark = grid[row["troop"]]
        assert mark.startswith("✓ sent") == row["submitted"]
        assert ("held" in mark) == (row["files_held"] > 0)
    assert any("missing" in mark for mark in grid)


def test_a_cell_of_the_grid_tells_what_came_in(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "submissions")
    grid = table(at, "Troop", "Week 1")
    place = int(grid.index[grid["Week 6"].str.contains("missing")][0])
    at.session_state["grid"] = {"selection": {"rows": [], "columns": [], "cells": [(place, "Week 6")]}}
    sound(at.run())
    assert f"Troop {grid.loc[place, 'Troop']}, week to Sun 21 Mar" in text(at)
    assert "Nothing came in for this week." in text(at)


def test_the_week_lives_in_the_address(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "who_owes", week="3")
    assert "Figures as of Sunday 28 February 2027" in text(at)
    (area,) = figures(demo_book, "area", date(2027, 2, 28))
    assert metrics(at)["Owed"] == words.money(area["owed"])
    sound(at.selectbox(key="week").set_value(5).run())
    assert at.query_params["week"] == "5"
    assert "Figures as of Sunday 14 March 2027" in text(at)


@pytest.mark.parametrize("week", ["0", "99", "x", "-1", "<b>", "²", "9" * 5000])
def test_a_week_that_is_not_there_shows_the_latest(demo_book: Book, screen: Open, week: str) -> None:
    assert "Figures as of Sunday 21 March 2027" in text(screen(demo_book, "this_week", week=week))


def test_files_dropped_are_taken_in_and_told(trial: Trial, screen: Open) -> None:
    at = screen(trial.book, "submissions")
    good = b"troop,level\n0555,older\n"
    bad = b"troop,week_ending,item,on_hand\n0417,2027-02-14,XYZ,3\n"
    at.file_uploader[0].set_value([("../../troops.csv", good, "text/csv"), ("stock.csv", bad, "text/csv")])
    at.button[0].click()
    sound(at.run())
    said = text(at)
    assert "troops.csv: taken in, 1 row" in said
    assert "stock.csv: held" in said
    assert "1 file held" in said
    assert "0555" in set(table(at, "Troop", "Week 1")["Troop"])
    found = table(at, "What to do")
    assert (found.loc[0, "Found"], found.loc[0, "Where"], found.loc[0, "What"]) == ("XYZ", "C2", "to mend")


def test_every_figure_is_explained_with_its_terms(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "troop", troop="0448")
    (row,) = [one for one in figures(demo_book, "standing") if one["troop"] == "0448"]
    said = text(at)
    assert f"| Charged | {words.money(row['charged'])} |" in said
    assert f"| less Proceeds | {words.money(row['proceeds'])} |" in said
    assert f"| Owed | {words.money(row['owed'])} |" in said


def test_a_figure_shows_the_cells_it_counts(demo_book: Book, screen: Open) -> None:
    """What the cells count as, added up, is the figure."""
    at = screen(demo_book, "troop", troop="0448")
    (row,) = [one for one in figures(demo_book, "standing") if one["troop"] == "0448"]
    sound(at.toggle(key="cells_standing_not_banked_").set_value(True).run())
    cells = table(at, "Counts in", "Says", "Counts as")
    amounts = [one.replace("$", "").replace(",", "").replace("\u2212", "-") for one in cells["Counts as"]]
    assert sum(map(Decimal, amounts)) == row["not_banked"]
    assert {"families.csv", "stalls.csv", "banked.csv"} == {name.rpartition("/")[2] for name in cells["File"]}


def test_the_navigation_has_groups_for_a_coordinator_and_none_for_a_few() -> None:
    groups = in_groups(SCREENS)
    assert list(groups) == [group for group in GROUPS if group in groups]
    assert sorted(one.title for some in groups.values() for one in some) == sorted(one.title for one in SCREENS)
    assert next(iter(groups.values()))[0] is SCREENS[0], "the first of the first group is where somebody arrives"
    assert {one.group for one in SCREENS} <= set(GROUPS)
    assert list(in_groups(screens_of("viewer"))) == [""]
