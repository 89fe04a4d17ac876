"""Follow up and the first calls: what the screens list, and that what is written down there is kept."""

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from shown_screens import SIX, sound
from shown_screens import text as shown_text
from streamlit.testing.v1 import AppTest

from dashboard.data import actions, snapshots
from dashboard.parts import tables
from pipelines.definitions.errors import Stop
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.follow_up.decisions import Entry, Key
from pipelines.follow_up.first_calls import by_troop, first_calls
from pipelines.store.book import Book
from pipelines.workflow import looking_back, take_in

Row = dict[str, Any]
Open = Callable[..., AppTest]


@pytest.fixture
def own_book(demo_book: Book, tmp_path: Path) -> Book:
    """A copy of the demo's book to write in."""
    shutil.copytree(demo_book.folder, tmp_path / "book")
    return Book(tmp_path / "book")


def text(at: AppTest) -> str:
    """Everything said on a screen, and the texts to copy."""
    return "\n".join([shown_text(at), *(one.value for one in at.code)])


def listed(book: Book) -> list[Row]:
    with looking_back.figures(book, COORDINATOR) as figures:
        return figures.rows("exceptions", SIX)


def chosen(at: AppTest) -> str:
    return str(at.selectbox(key="follow_chosen").value)


def test_this_week_names_the_five_first_calls(demo_book: Book, screen: Open) -> None:
    said = text(screen(demo_book, "this_week"))
    with looking_back.figures(demo_book, COORDINATOR) as figures:
        rows, people, title = figures.rows("exceptions", SIX), figures.facts("troops"), figures.rules()["title"]
    found = first_calls(rows, people, title, SIX)
    assert len(found) == 5
    for call in found:
        assert call.reason in said
        assert call.phone in said
        assert call.email in said.replace("\u2060", "")  # a joiner keeps it from becoming a link
        assert call.text in said


def test_follow_up_lists_them_ranked_and_opens_the_first(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "follow_up")
    waiting = [row for row in listed(demo_book) if row["state"] == "open"]
    ranked = [row for found in by_troop(waiting).values() for row in found]
    table = next(one.value for one in at.dataframe if "what" in one.value.columns)
    assert list(table["what"]) == [row["what"] for row in ranked]
    assert list(table["troop"]) == [row["troop"] for row in ranked]
    assert chosen(at) == ranked[0]["code"]
    said = text(at)
    assert f"{len(ranked)} things to follow up in {len({row['troop'] for row in ranked})} troops" in said
    assert ranked[0]["what"] in said
    assert ranked[0]["next_step"] in said
    evidence = next(one.value for one in at.dataframe if "Says" in one.value.columns)
    assert list(evidence["Says"]) == [piece["says"] for piece in ranked[0]["evidence"]]
    assert sum(amount for amount in evidence["Amount"] if amount) == ranked[0]["at_stake"]


def test_a_long_list_comes_by_pages(demo_book: Book, screen: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ranked over all pages; the first of the second page is the one after the last of the first."""
    waiting = [row for row in listed(demo_book) if row["state"] == "open"]
    ranked = [row["what"] for found in by_troop(waiting).values() for row in found]
    monkeypatch.setattr(tables, "PAGE", 10)
    at = screen(demo_book, "follow_up")
    shown = next(one.value for one in at.dataframe if "at_stake" in one.value.columns)
    assert len(shown) == 10
    at.selectbox(key="follow_page").set_value(2).run()
    assert chosen(at) == next(row["code"] for row in waiting if row["what"] == ranked[10])


def test_a_link_opens_one_troops(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "follow_up", troop="1926")
    table = next(one.value for one in at.dataframe if "what" in one.value.columns)
    assert set(table["troop"]) == {"1926"}


def write(at: AppTest, kind: str, words: str = "", **other: Any) -> AppTest:
    """Fills in the form of the exception that is open and sends it."""
    code = chosen(at)
    at.radio(key=f"kind_{code}").set_value(kind)
    at.text_input(key=f"words_{code}").set_value(words)
    if "amount" in other:
        at.text_input(key=f"amount_{code}").set_value(other["amount"])
    if "day" in other:
        at.selectbox(key=f"day_{code}").set_value(other["day"])
    next(button for button in at.button if button.label == "Write down").click()
    return sound(at.run())


def test_a_promise_is_written_down_said_in_full_and_stays_open(own_book: Book, screen: Open) -> None:
    at = screen(own_book, "follow_up")
    first = chosen(at)
    assert at.selectbox(key=f"day_{first}").value == date(2027, 3, 22), "the next working day"
    at = write(at, "Promised", "after Saturday's stall", day=date(2027, 3, 26), amount="$1,000.00")
    assert chosen(at) == first
    assert "promised $1,000.00 for Fri 26 Mar." in text(at)
    assert "promised $1,000.00 for Fri 26 Mar: after Saturday's stall" in text(at)
    (row,) = [one for one in listed(own_book) if one["code"] == first]
    assert (row["state"], str(row["promised"]), row["until_on"]) == ("promised", "1000.00", date(2027, 3, 26))
    next(one for one in at.button if one.label == "Next").click()
    at = sound(at.run())
    assert chosen(at) != first
    at.radio(key="follow_shown").set_value("Promised")
    at = sound(at.run())
    assert chosen(at) == first


def test_the_list_can_be_of_one_kind(demo_book: Book, screen: Open) -> None:
    at = screen(demo_book, "follow_up")
    kind = at.selectbox(key="follow_kind").options[1]
    at.selectbox(key="follow_kind").set_value(kind)
    table = next(one.value for one in sound(at.run()).dataframe if "what" in one.value.columns)
    assert len(table)
    assert all(about.startswith(kind) for about in table["about"])


def test_a_note_stays_with_its_exception(own_book: Book, screen: Open) -> None:
    at = screen(own_book, "follow_up")
    first = chosen(at)
    at = write(at, "Note", "called, no answer")
    assert chosen(at) == first
    assert "a note: called, no answer" in text(at)


def test_what_cannot_be_written_is_said(own_book: Book, screen: Open) -> None:
    at = screen(own_book, "follow_up")
    assert "To settle it, say the reason." in text(write(at, "Settled"))
    assert "lots is no amount." in text(write(at, "Promised", amount="lots"))


def test_what_cleared_says_so(own_book: Book, screen: Open, tmp_path: Path) -> None:
    """The organisation's figure comes to be ours: the exception is gone, and stays to be read."""
    key = ("books_differ", "1043")
    assert [row for row in listed(own_book) if (row["rule"], row["troop"]) == key]
    with looking_back.figures(own_book, COORDINATOR) as figures:
        (ours,) = [row["owed"] for row in figures.rows("standing", SIX) if row["troop"] == "1043"]
    (tmp_path / "organisation_balance.csv").write_text(f"troop,on,owed\n1043,{SIX},{ours}\n", encoding="utf-8")
    take_in.ingest(own_book, [tmp_path / "organisation_balance.csv"], "tests")
    assert not [row for row in listed(own_book) if (row["rule"], row["troop"]) == key]
    at = sound(screen(own_book, "follow_up").radio(key="follow_shown").set_value("Cleared").run())
    (told,) = [one for one in at.expander if one.label.replace("\\", "").startswith("1043: The organisation")]
    assert "cleared by itself" in "".join(one.value for one in told.markdown)


def test_only_the_coordinator_writes(own_book: Book) -> None:
    leader = Viewer("leader", frozenset({"0448"}))
    snapshots.open_book(own_book, lambda: leader)
    try:
        with pytest.raises(Stop, match="by the coordinator"):
            actions.write_down([Entry(Key("past_due", "0448"), "note", "x")])
    finally:
        snapshots.open_book(None)
