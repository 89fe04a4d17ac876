"""The Bank screen: a statement's lines are shown with what they answer, the ticked ones are kept, nothing else."""

import re
from collections.abc import Callable, Iterator

import pytest
from shown_screens import shown
from statements import Booked, camt, ofx_1
from streamlit.testing.v1 import AppTest
from trial import FEEDS, Trial, accepted

from dashboard.data import snapshots
from pipelines.figures.viewer import COORDINATOR, Viewer

LEADER = Viewer("Ada", frozenset({"0417"}))
LINES = [
    Booked("b1", "2027-02-10", "52.00", "COUNTER"),
    Booked("b2", "2027-02-11", "-84.20", "RENT OF A PRIVATE FLAT"),
]


@pytest.fixture
def known(new_trial: Callable[..., Trial]) -> Iterator[Trial]:
    trial = new_trial()
    trial.send(**{**FEEDS, "troops": "troop level account\n0417 younger 4711\n0031 older 0815\n1282 older -"})
    banked = "troop week_ending date amount\n0417 2027-02-14 2027-02-09 52.00"
    assert accepted(trial.send(banked=banked, stock="troop week_ending item on_hand\n0417 2027-02-14 GLA 4"))
    yield trial
    snapshots.open_book(None)


def shown_to(viewer: Viewer, trial: Trial) -> AppTest:
    snapshots.open_book(trial.book, lambda: viewer)
    return shown("bank")


def pressed(at: AppTest, label: str) -> None:
    next(one for one in at.button if one.label == label).click().run()


def said(at: AppTest) -> str:
    assert not at.exception, [one.value for one in at.exception]
    told = (at.markdown, at.caption, at.success, at.warning)
    return re.sub(r"\\([^\w\s])", r"\1", "\n".join(one.value for kind in told for one in kind))


def test_lines_are_shown_then_the_ticked_ones_kept(known: Trial) -> None:
    at = shown_to(LEADER, known)
    assert "No line of a bank has come in yet." in said(at)
    at.file_uploader[0].set_value(("march.ofx", ofx_1(LINES), "application/x-ofx"))
    pressed(at, "Show its lines")
    frame = at.session_state["bank_lines"]
    assert [(one.line, one.answers) for one in frame] == [("b1", "deposit of 9 February"), ("b2", "")]
    pressed(at, "Keep these lines")
    assert "1 line kept; of the rest nothing." in said(at)
    assert "**1 of 1** lines of the bank answer the book" in said(at)
    kept = b"".join(path.read_bytes() for path in known.book.folder.rglob("*") if path.is_file())
    assert b"PRIVATE FLAT" not in kept


def test_another_troops_account_is_refused(known: Trial) -> None:
    at = shown_to(LEADER, known)
    at.file_uploader[0].set_value(("march.xml", camt(LINES, account="GB33BUKB20201555000815"), "text/xml"))
    pressed(at, "Show its lines")
    assert "not the account of a troop of yours" in said(at)
    assert "bank_lines" not in at.session_state


def test_the_coordinator_sees_every_troop(known: Trial) -> None:
    known.send(bank_lines="troop line date amount\n0031 x1 2027-02-10 9.00")
    at = shown_to(COORDINATOR, known)
    assert "**0 of 1** lines of the bank answer the book" in said(at)
