"""What is agreed on screens: closing, confirming, debts handed over, wishes, the draw, swaps.

Comes in: what was asked for. Goes out: what became of it. Each asks anew who the viewer is and raises Stop where it is
not theirs to do.
"""

from decimal import Decimal
from typing import Literal

from dashboard.data.actions import coordinator, note
from dashboard.data.readings import now
from dashboard.data.snapshots import book, viewer
from pipelines.definitions.errors import Stop
from pipelines.figures.stall_draw import Draw
from pipelines.follow_up import agreements, stalls
from pipelines.workflow import closing

Answer = Literal["accept", "take_back", "came_in"]


def _coordinator() -> str:
    who = coordinator("This is the coordinator's to do.")
    if now().known_on:
        raise Stop("You are looking back. What is agreed belongs to the newest figures: go back to them first.")
    return who


def _leader(troop: str) -> str:
    who = viewer()
    if who.troops is None or troop not in who.troops:
        raise Stop("This is no troop of yours.")
    return who.name


def close(troops: tuple[str, ...], *, anyway: bool) -> closing.Closed:
    """Closes troops, or all of them, as of the week chosen."""
    who = _coordinator()
    note("closed", ", ".join(troops) or "all troops")
    return closing.close(book(), who, now().as_of, troops, anyway=anyway)


def reopen(troops: tuple[str, ...], reason: str) -> tuple[str, ...]:
    """Opens closed troops again; the coordinator alone."""
    who = _coordinator()
    note("opened again", ", ".join(troops))
    return closing.reopen(book(), who, troops, reason)


def confirm(troops: tuple[str, ...]) -> tuple[str, ...]:
    """The coordinator's confirmation of closes."""
    who = _coordinator()
    note("close confirmed", ", ".join(troops) or "all that are closed")
    return closing.confirm(book(), who, "coordinator", troops)


def confirm_own(troop: str) -> tuple[str, ...]:
    """A leader's confirmation of her troop's close."""
    who = _leader(troop)
    note("close confirmed", troop)
    return closing.confirm(book(), who, "leader", (troop,))


def after_close(troop: str) -> closing.AfterClose | None:
    """What came in for a troop after it closed; the coordinator's."""
    _coordinator()
    return closing.after_close(book(), troop).get(troop)


def hand_over(troop: str, participant: str, amount: Decimal, words: str) -> int:
    """Hands a family's debt to the organisation."""
    who = _coordinator()
    note("debt handed over", participant)
    return agreements.hand_over(book(), who, troop, participant, amount, words, now().as_of)


def answer_debt(kind: Answer, troop: str, participant: str, amount: Decimal | None, words: str) -> int:
    """Writes down what became of a debt that was handed over."""
    who = _coordinator()
    note(f"debt: {kind}", participant)
    return agreements.answer_debt(book(), who, kind, troop, participant, now().as_of, amount, words)


def keep_draw(number: int) -> Draw:
    """Keeps a draw: its slots are the troops' from now on."""
    who = _coordinator()
    note("draw kept", str(number))
    return stalls.keep_draw(book(), who, number, now().as_of)


def wish(troop: str, slots: list[str]) -> int:
    """What a leader's troop wishes for, in place of every earlier wish."""
    who = _leader(troop)
    note("wishes typed", troop)
    return stalls.wish(book(), who, "leader", troop, slots, now().as_of)


def ask_swap(troop: str, own: str, other: str) -> int:
    """Asks whoever has a slot to swap it for one of the leader's troop."""
    who = _leader(troop)
    note("swap asked", f"{own} for {other}")
    return stalls.ask_swap(book(), who, troop, own, other, now().as_of)


def answer_swap(troop: str, entry_no: int, *, yes: bool) -> None:
    """Says yes or no to a swap that is asked of the leader's troop."""
    who = _leader(troop)
    note("swap answered", f"{entry_no}: {'yes' if yes else 'no'}")
    stalls.answer_swap(book(), who, frozenset({troop}), entry_no, now().as_of, yes=yes)
