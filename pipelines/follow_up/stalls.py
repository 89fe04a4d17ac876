"""Who stands where: wishes that a leader types, the draw that is kept, swaps that both leaders agree to.

Comes in: figures, or a book with what somebody asks for. Goes out: a draw with why each wish was met or not; entries of
landed.agreements. What is asked is looked at again under the writer's lock: a slot may have gone meanwhile.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.figures.figures import Figures
from pipelines.figures.stall_draw import Draw, Slot, draw
from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up.agreements import Agreed, Role, agree
from pipelines.store.book import Book
from pipelines.store.engine import Connection

Row = dict[str, Any]
MOST_WISHES = 40


def wishes_of(figures: Figures) -> dict[str, list[str]]:
    """The slots that each troop wishes for, the first wish first."""
    found: dict[str, list[str]] = {}
    for row in figures.facts("wishes"):
        found.setdefault(row["troop"], []).append(row["slot"])
    return found


def drawn(figures: Figures, as_of: date, number: int) -> Draw:
    """The draw of a number, of the slots to come that are free, among all troops that wish for one."""
    free = [row for row in figures.stalls.calendar(as_of) if row["state"] == "open" and row["date"] > as_of]
    slots = [Slot(row["slot"], row["is_prime"], row["takings"]) for row in free]
    return draw(number, wishes_of(figures), slots)


def reasons(done: Draw, wished: Sequence[str], troop: str) -> list[str]:
    """Of each wish of a troop, in its order, what became of it."""
    said = []
    for code in wished:
        got = done.of(code)
        if code not in done.values:
            said.append("not free any more")
        elif got is None:
            said.append("nobody got it")
        elif got.troop == troop:
            said.append(f"yours, in round {got.round}")
        else:
            first = "whose turn came sooner" if got.round == 1 else "which had less by then"
            said.append(f"went in round {got.round} to a troop {first}")
    return said


def keep_draw(book: Book, who: str, number: int, as_of: date) -> Draw:
    """Writes a draw down: its slots are the troops' from now on."""
    with book.reading() as con:
        done = drawn(Figures(con, COORDINATOR), as_of, number)
    if not done.given:
        raise Stop("There is nothing to give: no free slot is wished for.")

    def check(con: Connection) -> None:
        if drawn(Figures(con, COORDINATOR), as_of, number) != done:
            raise Stop("Wishes or slots have changed meanwhile. Look at the draw again.")

    entries = [
        Agreed("give", one.troop, one.slot, as_of=as_of, words=f"draw {number}, round {one.round}, wish {one.rank}")
        for one in done.given
    ]
    agree(book, who, "coordinator", entries, check)
    return done


def wish(book: Book, who: str, role: Role, troop: str, slots: Sequence[str], as_of: date) -> int:
    """Writes down what a troop wishes for, in place of every earlier wish of its."""
    chosen = list(dict.fromkeys(slots))
    if len(chosen) > MOST_WISHES:
        raise Stop(f"At most {MOST_WISHES} wishes, the most wanted first.")

    def check(con: Connection) -> None:
        known = {row["slot"] for row in Figures(con, COORDINATOR).stalls.calendar(as_of)}
        if unknown := [code for code in chosen if code not in known]:
            raise Stop(f"{', '.join(unknown)}: no such slot in the calendar.")

    return agree(book, who, role, [Agreed("wish", troop, as_of=as_of, words=" ".join(chosen))], check)


def ask_swap(book: Book, who: str, troop: str, own: str, other: str, as_of: date, words: str = "") -> int:
    """Asks whoever has another slot to swap it for one's own."""

    def check(con: Connection) -> None:
        held = {row["slot"]: row for row in Figures(con, COORDINATOR).stalls.calendar(as_of) if row["state"] == "given"}
        if own not in held or held[own]["troop"] != troop:
            raise Stop(f"Slot {own} is not your troop's.")
        if other not in held or held[other]["troop"] == troop:
            raise Stop(f"Slot {other} is no other troop's: a free one is wished for.")
        if min(held[own]["date"], held[other]["date"]) <= as_of:
            raise Stop("What is over can be swapped no more.")

    return agree(book, who, "leader", [Agreed("swap", troop, own, other, as_of=as_of, words=words)], check)


def answer_swap(book: Book, who: str, troops: frozenset[str], entry_no: int, as_of: date, *, yes: bool) -> None:
    """Agrees to a swap on behalf of the troop that is asked, or declines it; both slots change hands at once."""
    with book.reading() as con:
        row = _swap(con, entry_no, as_of)
    if row is None or row["asked"] not in troops:
        raise Stop("This swap is not asked of a troop of yours any more.")

    def check(con: Connection) -> None:
        if _swap(con, entry_no, as_of) != row:
            raise Stop("One of the two slots has gone meanwhile.")

    word = f"swap {entry_no}"
    entries = [Agreed("agree" if yes else "decline", row["asked"], row["other"], refers_to=entry_no, as_of=as_of)]
    if yes:
        entries += [
            Agreed("give", row["asked"], row["about"], as_of=as_of, words=word),
            Agreed("give", row["asker"], row["other"], as_of=as_of, words=word),
        ]
    agree(book, who, "leader", entries, check)


def _swap(con: Connection, entry_no: int, as_of: date) -> Row | None:
    return next((row for row in Figures(con, COORDINATOR).stalls.swaps(as_of) if row["entry_no"] == entry_no), None)
