"""A troop, or the whole book, is closed as of a day: its figures stay as they were known then, whatever comes in later.

Comes in: a book, a day, a troop or none for all. Goes out: entries of landed.agreements, and figures published with
them; what came in after the close, with the difference that it would make; which troops still wait for what.

A close names the day and the time up to which what came in counts for the troop, and the SHA-256 of the figures. Every
row that tells of the troop is kept as it was then (store/frozen.py) and read from there; the digest proves that what is
read is what was closed. Opening again takes the name away; nothing that came in is lost.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.figures.changes import Change, MovedMeasure, changes, moved_measures
from pipelines.figures.figures import Figures, Relation
from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up.agreements import Agreed, Role, agree, append
from pipelines.store import engine
from pipelines.store.book import Book, now
from pipelines.store.engine import Connection
from pipelines.workflow import looking_back, publishing

FROZEN: tuple[Relation, ...] = ("standing", "items", "families", "dues")
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Closed:
    """The troops that a close has just closed, and those that were closed already."""

    troops: tuple[str, ...]
    before: tuple[str, ...]
    as_of: date
    known_on: datetime


@dataclass(frozen=True, slots=True)
class AfterClose:
    """What came in for a closed troop after it closed: by file, and the figures that it would move."""

    troop: str
    changes: tuple[Change, ...]
    moved: tuple[MovedMeasure, ...]
    is_as_closed: bool  # whether the figures that hold are, to the byte, those that were closed


def close(
    book: Book, who: str, as_of: date, troops: tuple[str, ...] = (), *, anyway: bool = False,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> Closed:  # fmt: skip
    """Closes some troops, or all of them, as of a published day, with what has come in by now.

    Raises Stop where one is not ready, unless `anyway`. One that is closed already stays as it was closed.
    """
    with book.writing(on_wait) as con:
        season = publishing.season_known(book, con, None)
        if not publishing.is_published(book, con, season):
            publishing.publish(book, con, season)
        with book.reading() as snapshot:
            rows = {row["troop"]: row for row in _closing(snapshot, as_of)}
            chosen = _chosen(rows, troops, as_of)
            before = tuple(code for code in chosen if rows[code]["close_no"] is not None)
            fresh = tuple(code for code in chosen if code not in before)
            waiting = [code for code in fresh if not rows[code]["is_ready"]]
            if waiting and not anyway:
                raise Stop(
                    f"{len(waiting)} of {len(fresh)} troops are not ready: {', '.join(waiting[:8])}"
                    f"{' …' if len(waiting) > 8 else ''}. See what is open first; --anyway closes them as they are."
                )
            known_on = now()
            figures = Figures(snapshot, COORDINATOR)
            digests = {code: digest(figures, code, as_of) for code in fresh}
        entries = [Agreed("close", code, as_of=as_of, known_on=known_on, digest=digests[code]) for code in fresh]
        if numbered := append(con, who, "coordinator", entries):
            publishing.keep_published(book, con, [(entry[0], entry[5]) for entry in numbered])
            publishing.publish(book, con, season)
    return Closed(fresh, before, as_of, known_on)


def reopen(book: Book, who: str, troops: tuple[str, ...], reason: str) -> tuple[str, ...]:
    """Opens troops, or all that are closed, again; the reason is kept. What came in since counts from now on."""
    if not reason.strip():
        raise Stop("To open it again, say the reason.")
    with book.writing() as con:
        with book.reading() as snapshot:
            as_of = _newest(snapshot)
            rows = {row["troop"]: row for row in _closing(snapshot, as_of)}
        chosen = _chosen(rows, troops, as_of)
        closed = tuple(code for code in chosen if rows[code]["close_no"] is not None)
        if not closed:
            raise Stop("None of these is closed.")
        append(con, who, "coordinator", [Agreed("reopen", code, as_of=as_of, words=reason.strip()) for code in closed])
        publishing.publish(book, con, publishing.season_known(book, con, None))
    return closed


def confirm(book: Book, who: str, role: Role, troops: tuple[str, ...] = ()) -> tuple[str, ...]:
    """One of the two confirmations that make a closed troop's proceeds final; of all that are closed, if none is named.

    Raises Stop where a named one is not closed, or where somebody would confirm in both roles.
    """
    with book.reading() as con:
        as_of = _newest(con)
        rows = {row["troop"]: row for row in _closing(con, as_of)}
    if open_ones := [code for code in troops if code not in rows or rows[code]["close_no"] is None]:
        raise Stop(f"{', '.join(open_ones)}: not closed yet. What is confirmed is a close.")
    other = "confirmed_by_leader" if role == "coordinator" else "confirmed_by_coordinator"
    chosen = [row for code, row in rows.items() if row["close_no"] is not None and (not troops or code in troops)]
    if any(row[other] == who for row in chosen):
        raise Stop("Two people confirm a close: you have done so already in the other role.")
    waiting = [row for row in chosen if row[f"confirmed_by_{role}"] is None]
    agree(book, who, role, [Agreed("confirm", row["troop"], refers_to=row["close_no"], as_of=as_of) for row in waiting])
    return tuple(row["troop"] for row in waiting)


def after_close(book: Book, troop: str = "") -> dict[str, AfterClose]:
    """What came in after a troop closed, and the difference that it would make if that troop were opened again.

    Without a troop, of each that is closed, as if all were opened.
    """
    found: dict[str, AfterClose] = {}
    with book.reading() as con:
        closed = [row for row in _closing(con, _newest(con)) if row["close_no"] and troop in ("", row["troop"])]
        now_shown = Figures(con, COORDINATOR)
        for as_of in sorted({row["closed_as_of"] for row in closed}):
            with looking_back.as_if_open(book, as_of, troop) as opened:
                would_be = Figures(opened, COORDINATOR)
                for row in (row for row in closed if row["closed_as_of"] == as_of):
                    code = row["troop"]
                    found[code] = AfterClose(
                        code,
                        tuple(changes(now_shown, would_be, as_of, code, row["closed_known_on"])),
                        tuple(moved_measures(now_shown, would_be, as_of, code)),
                        digest(now_shown, code, as_of) == row["digest"],
                    )
    return dict(sorted(found.items()))


def digest(figures: Figures, troop: str, as_of: date) -> str:
    """The SHA-256 of a troop's figures of a day."""
    told = {name: figures.rows(name, as_of, troop) for name in FROZEN}
    return hashlib.sha256(json.dumps(told, default=str, sort_keys=True).encode()).hexdigest()


def unfinished(book: Book) -> list[str]:
    """What must be done before the season is over, in sentences: troops that are not final, debts that are open."""
    with book.reading() as con:
        as_of = _newest(con)
        rows = _closing(con, as_of)
        debts = engine.rows(
            con,
            "select troop, participant, amount - came_in - settled as rest, state from follow_up.debts where as_of = ? "
            "and taken_back_on is null and amount > came_in + settled order by troop, participant",
            [as_of],
        )
    not_final = [row["troop"] for row in rows if row["state"] != "final"]
    said = []
    if not_final:
        said.append(
            f"The closing is not done: {len(not_final):,} of {len(rows):,} troops are not closed and confirmed by both "
            f"sides ({', '.join(not_final[:8])}{' …' if len(not_final) > 8 else ''})."
        )
    if debts:
        rest = sum(row["rest"] for row in debts)
        said.append(
            f"{len(debts):,} debts that were handed over are open, {rest:,.2f} in all: their evidence is in these rows."
        )
    return said


def _closing(con: Connection, as_of: date) -> list[Row]:
    return engine.rows(con, "select * from follow_up.closing where as_of = ? order by troop", [as_of])


def _newest(con: Connection) -> date:
    found: date = con.execute("select max(as_of) from chosen.days").fetchall()[0][0]
    return found


def _chosen(rows: dict[str, Row], troops: tuple[str, ...], as_of: date) -> tuple[str, ...]:
    if not rows:
        raise Stop(f"Nothing is published as of {as_of.isoformat()}.")
    if unknown := [code for code in troops if code not in rows]:
        raise Stop(f"There is no troop {', '.join(unknown)} in this book.")
    return troops or tuple(rows)
