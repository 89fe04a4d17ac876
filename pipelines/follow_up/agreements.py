"""What leaders, the coordinator and the organisation agree: kept for ever as decisions are, never altered.

Comes in: entries of one person. Goes out: rows of landed.agreements, and a snapshot in which they show at once; where
one closes or opens a troop its writer publishes anew, since figures rest on it.

What may be said after what stands here: one debt of a family is open at a time, the organisation answers one that was
handed over, a swap is answered once by the other side. What a person repeats is not written twice.
"""

from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal

from pipelines.definitions.errors import Stop
from pipelines.follow_up.decisions import LONGEST, show
from pipelines.store import engine, journal
from pipelines.store.book import Book, now
from pipelines.store.engine import Connection

Kind = Literal[
    "close", "reopen", "confirm", "debt", "accept", "take_back", "came_in", "wish", "give", "swap", "agree", "decline"
]
Role = Literal["coordinator", "leader"]
NEEDS_WORDS: dict[str, str] = {
    "reopen": "To open it again, say the reason.",
    "debt": "To hand a debt over, say what was agreed with whom.",
}


@dataclass(frozen=True, slots=True)
class Agreed:
    """One thing that was agreed; what each part means for a kind stands with landed.agreements."""

    kind: Kind
    troop: str = ""
    about: str = ""
    other: str = ""
    refers_to: int | None = None
    as_of: date = date.min
    known_on: datetime | None = None
    on_day: date | None = None
    amount: Decimal | None = None
    words: str = ""
    digest: str = ""


def agree(
    book: Book,
    who: str,
    role: Role,
    entries: Sequence[Agreed] | Callable[[Connection], Sequence[Agreed]],
    check: Callable[[Connection], object] = lambda _con: None,
) -> int:
    """Writes down what somebody agreed to and shows it; how many entries were new.

    `entries`: or what makes them of the current snapshot under the writer's lock. `check`: looks at it then and raises
    Stop where it may not be. Raises Stop too where an entry lacks what its kind needs.
    """
    with book.writing() as con:
        with book.reading() as snapshot:
            check(snapshot)
            made: Sequence[Agreed] = entries(snapshot) if callable(entries) else entries
        for entry in made:
            _check(entry)
        numbered = append(con, who, role, made)
        if numbered:
            journal.write_down(con, book.journal)
            show(book, con, "agreements")
    return len(numbered)


def append(con: Connection, who: str, role: Role, entries: Sequence[Agreed]) -> list[tuple[Any, ...]]:
    """Numbers and keeps those that the same person has not just said; the clock set back must not reorder them."""
    last_no, last_at = con.execute(
        "select coalesce(max(entry_no), 0), max(written_at) from landed.agreements"
    ).fetchall()[0]
    at: datetime = max(now(), last_at) if last_at else now()
    new = [one for one in entries if not _is_repeated(con, who, one)]
    numbered = [(last_no + place, at, who, role, *astuple(one)) for place, one in enumerate(new, 1)]
    if numbered:
        with engine.transaction(con):
            engine.insert(con, "landed.agreements", numbered)
    return numbered


def debt(con: Connection, troop: str, participant: str) -> dict[str, Any] | None:
    """The debt of a family that was handed over and not taken back, as of the newest day."""
    found = engine.rows(
        con,
        "select * from follow_up.debts where troop = ? and participant = ? and taken_back_on is null "
        "and as_of = (select max(as_of) from chosen.days) order by entry_no desc limit 1",
        [troop, participant],
    )
    return found[0] if found else None


def hand_over(book: Book, who: str, troop: str, participant: str, amount: Decimal, words: str, as_of: date) -> int:
    """Writes down that a family's debt was handed to the organisation; it lowers nothing before that accepts it."""

    def check(con: Connection) -> None:
        if debt(con, troop, participant):
            raise Stop(f"A debt of {participant} is handed over already. Take it back first.")
        owes = con.execute(
            "select owes from measures.families where troop = ? and participant = ? and as_of = ?",
            [troop, participant, as_of],
        ).fetchall()
        if not owes or amount > owes[0][0]:
            raise Stop(f"{participant} owes {owes[0][0] if owes else 0} as of {as_of}: no more can be handed over.")

    if amount <= 0:
        raise Stop("A debt is above nil.")
    entry = Agreed("debt", troop, participant, as_of=as_of, amount=amount, words=words)
    return agree(book, who, "coordinator", [entry], check)


def answer_debt(
    book: Book, who: str, kind: Literal["accept", "take_back", "came_in"], troop: str, participant: str, as_of: date,
    amount: Decimal | None = None, words: str = "",
) -> int:  # fmt: skip
    """Writes down what became of a debt: accepted by the organisation, taken back, or money that came in later."""

    def answer(con: Connection) -> list[Agreed]:
        found = debt(con, troop, participant)
        if not found:
            raise Stop(f"No debt of {participant} of troop {troop} is handed over.")
        if kind == "came_in" and (not found["accepted_on"] or amount is None or amount <= 0):
            raise Stop("Money comes in to a debt that the organisation has accepted, and is above nil.")
        if kind == "accept" and found["accepted_on"]:
            return []
        return [Agreed(kind, troop, participant, refers_to=found["entry_no"], as_of=as_of, amount=amount, words=words)]

    return agree(book, who, "coordinator", answer)


def _check(entry: Agreed) -> None:
    if entry.kind in NEEDS_WORDS and not entry.words.strip():
        raise Stop(NEEDS_WORDS[entry.kind])
    if len(entry.words) > LONGEST:
        raise Stop(f"That is {len(entry.words):,} letters; an entry has at most {LONGEST:,}.")


def _is_repeated(con: Connection, who: str, entry: Agreed) -> bool:
    """Whether the newest entry about the same thing says the same, by the same person."""
    done = con.execute(
        "select written_by, kind, troop, about, other, refers_to, as_of, known_on, on_day, amount, words, digest "
        "from landed.agreements where troop = ? and about = ? order by entry_no desc limit 1",
        [entry.troop, entry.about],
    ).fetchall()
    return bool(done) and done[0] == (who, *astuple(entry))
