"""Stalls, Closing and the leader's two: what is said, what may be done there and by whom."""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from shown_screens import shown, text
from streamlit.testing.v1 import AppTest
from trial import Trial, accepted

from dashboard.data import agreed_actions, snapshots
from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.store.book import Book

LEE, OZ = Viewer("lee", frozenset({"0417"})), Viewer("oz", frozenset({"0031"}))
TABLES = {
    "troops": "troop level divisor\n0417 younger 2\n0031 older 1",
    "roster": "troop participant registered_on contact_on_file\n0417 0417-01 2026-10-01 yes\n"
    "0031 0031-01 2026-10-01 no",
    "places": "place title prime\nGATE Garden~gate yes\nMILL Mill no",
    "slots": """
        slot  place  date        start  end    troop  state  state_on
        S1    GATE   2027-02-20  09:00  13:00  0417   given  2027-02-01
        S2    MILL   2027-02-27  09:00  11:00  0031   given  2027-02-01
        F1    GATE   2027-02-21  09:00  11:00  -      open   2027-02-01
        F2    MILL   2027-02-21  12:00  14:00  -      open   2027-02-01""",
    "wishes": "troop rank slot\n0031 1 F1\n0031 2 F2",
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 4\n0031 2027-02-14 GLA 0",
    "supply": "document troop item date packages kind\nD-1 0417 GLA 2027-02-06 6 opening",
    "families": "troop week_ending participant item packages cash card\n0417 2027-02-14 0417-01 GLA 2 - -",
}


@pytest.fixture
def trial(new_trial: Callable[..., Trial]) -> Iterator[Trial]:
    made = new_trial()
    assert accepted(made.send(**TABLES))
    assert made.book
    yield made
    snapshots.open_book(None)


def of(viewer: Viewer, trial: Trial, screen: str) -> AppTest:
    snapshots.open_book(trial.book, lambda: viewer)
    return shown(screen)


def pressed(at: AppTest, label: str) -> AppTest:
    next(one for one in at.button if one.label == label).click().run()
    assert not at.exception, [one.value for one in at.exception]
    return at


def test_wishes_are_typed_drawn_and_kept(trial: Trial) -> None:
    at = of(LEE, trial, "our_stalls")
    assert "Next: Garden gate, Sat 20 Feb, 09:00 to 13:00; 2 slots free to wish for." in text(at)
    assert "0031" not in text(at)
    at.multiselect[0].set_value(["F2"])
    assert "Your wishes are kept." in text(pressed(at, "Keep our wishes"))
    at = of(COORDINATOR, trial, "stalls")
    assert "4 slots to come, 2 of them free; 2 troops wish for one." in text(at)
    assert "2 slots to 2 troops" in text(at)
    assert "Kept: 2 slots by the draw 1." in text(pressed(at, "Keep this draw"))
    assert "Mill, Sun 21 Feb, 12:00 to 14:00" in text(of(LEE, trial, "our_stalls"))


def test_a_swap_is_asked_and_answered(trial: Trial) -> None:
    at = of(LEE, trial, "our_stalls")
    at.selectbox[-1].select("S2")
    assert "It waits for the other leader's answer" in text(pressed(at, "Ask"))
    at = of(OZ, trial, "our_stalls")
    assert "Another troop offers Garden gate, Sat 20 Feb 09:00 for your Mill" in text(at)
    assert "0417" not in text(at)
    assert "Swapped." in text(pressed(at, "Yes, swap"))
    assert "Next: Mill, Sat 27 Feb" in text(of(LEE, trial, "our_stalls"))


def test_the_next_seasons_book_is_begun_beside_this_one(trial: Trial) -> None:
    """A name that leads elsewhere is refused; nobody comes along who was not chosen."""
    at = of(COORDINATOR, trial, "closing")
    at.text_input[-1].set_value("../elsewhere")
    assert "plain name" in text(pressed(at, "Make it"))
    at.text_input[-1].set_value("in a year")
    assert "its book is in" in text(pressed(at, "Make it"))
    made = Book(trial.book.folder.parent / "in a year")
    assert made.season().season.first_day == trial.book.season().season.first_day + timedelta(weeks=52)
    assert Access(made.folder).people() == []


def test_a_troop_is_closed_and_both_confirm(trial: Trial) -> None:
    at = of(COORDINATOR, trial, "closing")
    assert re.search(r"Of 2 troops 2 not ready; \$[\d.]+ is still to be paid", text(at))
    at.selectbox(key="closing_troop").select("0417").run()
    at.checkbox[0].check().run()
    assert "Troop 0417 is closed" in text(pressed(at, "Close troop 0417"))
    assert "The leader has not confirmed it yet." in text(of(LEE, trial, "our_closing"))
    at = of(LEE, trial, "our_closing")
    assert "confirmed for your troop" in text(pressed(at, "Our figures are right: confirm"))
    at = of(COORDINATOR, trial, "closing")
    at.selectbox(key="closing_troop").select("0417").run()
    pressed(at, "Confirm for the area")
    assert "1 final" in text(of(COORDINATOR, trial, "closing"))


def test_what_is_not_theirs_is_refused(trial: Trial) -> None:
    snapshots.open_book(trial.book, lambda: LEE)
    for act in (
        lambda: agreed_actions.close(("0417",), anyway=True), lambda: agreed_actions.reopen(("0417",), "x"),
        lambda: agreed_actions.confirm(("0417",)), lambda: agreed_actions.keep_draw(1),
        lambda: agreed_actions.after_close("0417"), lambda: agreed_actions.confirm_own("0031"),
        lambda: agreed_actions.wish("0031", ["F1"]), lambda: agreed_actions.ask_swap("0031", "S2", "S1"),
        lambda: agreed_actions.answer_swap("0031", 1, yes=True),
        lambda: agreed_actions.answer_debt("accept", "0417", "0417-01", None, ""),
    ):  # fmt: skip
        with pytest.raises(Stop, match=r"coordinator's to do|no troop of yours"):
            act()
