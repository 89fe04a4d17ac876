"""What people write down about exceptions, and what the tool notes by itself: kept for ever, never altered.

Comes in: an exception's key (rule, troop, subject), which stays the same over rebuilds, new submissions and restores.
Goes out: rows of landed.follow_ups, and a snapshot in which they show at once.

Each row has its time and person, and as_of, the day of the figures that were looked at: what was decided counts for
that day and later ones. `write` copies the current snapshot and makes anew only what rests on accepted.follow_ups (0.3
to 0.5 s in the demo). After each publishing `note_changes` writes down by itself what came up and what cleared on the
latest day, so that an exception that a corrected week takes out of all past figures stays in the history.

How they are gathered: follow_up.found is the union of all rules, follow_up.runs says since when each has been found
without a break over the asked days, follow_up.decisions the latest decision by each day, follow_up.listed all of it
with state and weight, follow_up.exceptions (a view) the same with evidence as file and cell.
"""

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from pipelines.definitions.errors import Stop
from pipelines.store import engine, journal, relations
from pipelines.store.book import Book, now
from pipelines.store.engine import Connection

Kind = Literal["note", "promise", "settle", "set_aside", "reopen", "agree", "received"]
OPENING = ("agree", "received")  # what somebody writes down makes the exception: there is none before
TOOL = "musterbook"  # who notes that an exception came up or cleared
LONGEST = 2000  # letters in one entry
DECISIONS = {
    "note": "a note",
    "promise": "promised",
    "settle": "settled",
    "set_aside": "set aside",
    "reopen": "opened again",
    "agree": "agreed",
    "received": "came",
    "opened": "came up",
    "cleared": "cleared by itself",
}


@dataclass(frozen=True, slots=True)
class Key:
    """Which exception: the same key for as long as the book lives."""

    rule: str
    troop: str
    subject: str = ""

    def __str__(self) -> str:
        return "/".join((self.rule, self.troop, self.subject)).rstrip("/")


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to write down. `on_day`: promised for, or set aside until; `amount`: promised, None for all of it; or
    the packages that were agreed or that came."""

    key: Key
    kind: Kind
    words: str = ""
    on_day: date | None = None
    amount: Decimal | None = None


def write(book: Book, who: str, as_of: date, entries: Sequence[Entry]) -> int:
    """Writes entries down as of a published day and publishes them; returns how many were new.

    An entry that says just what the newest one of the same person on that exception says is not written twice, so that
    a second press of a button changes nothing. Raises Stop where an entry lacks what its kind needs, or where the
    exception was never found.
    """
    for entry in entries:
        _check(entry, as_of)
    with book.writing() as con:
        with book.reading() as snapshot:
            found = [None if entry.kind in OPENING else _found(snapshot, entry.key, as_of) for entry in entries]
        rows: list[tuple[Any, ...]] = []
        for entry, one in zip(entries, found, strict=True):
            if not _is_repeated(con, who, as_of, entry):
                rows.append(
                    _row(entry.key, entry.kind, who, as_of, entry.words.strip(), one, entry.on_day, entry.amount)
                )
        if rows:
            with engine.transaction(con):
                _append(con, rows)
            journal.write_down(con, book.journal)
            show(book, con, "follow_ups")
    return len(rows)


def note_changes(con: Connection, snapshot: Connection) -> None:
    """Writes down which exceptions came up and which cleared since the last time, as of the snapshot's last day.

    `con`: the book's warehouse; `snapshot`: a computed snapshot that is still being made, which gets the new rows too.
    """
    open_before = {
        tuple(row)
        for row in con.execute(
            "select rule, troop, subject from landed.follow_ups "
            "where kind in ('opened', 'cleared', 'agree', 'received') "
            "qualify row_number() over (partition by rule, troop, subject order by entry_no desc) = 1 "
            "and kind <> 'cleared'"
        ).fetchall()
    }
    as_of = snapshot.execute("select max(as_of) from chosen.days").fetchall()[0][0]
    listed = snapshot.execute(
        "select rule, troop, subject, at_stake, met, what from follow_up.listed where as_of = ? "
        "order by rule, troop, subject",
        [as_of],
    ).fetchall()
    open_now = {row[:3] for row in listed}
    rows = [
        _row(Key(*row[:3]), "opened", TOOL, as_of, row[5], (row[3], row[4]))
        for row in listed
        if row[:3] not in open_before
    ]
    rows += [_row(Key(*key), "cleared", TOOL, as_of, "", None) for key in sorted(open_before - open_now)]
    if rows:
        with engine.transaction(con):
            numbered = _append(con, rows)
        with engine.transaction(snapshot):
            engine.insert(snapshot, "landed.follow_ups", numbered)
            relations.compute_again(snapshot, "accepted.follow_ups")


def _check(entry: Entry, as_of: date) -> None:
    if entry.kind in ("note", "settle") and not entry.words.strip():
        raise Stop("A note needs its words." if entry.kind == "note" else "To settle it, say the reason.")
    if len(entry.words) > LONGEST:
        raise Stop(f"That is {len(entry.words):,} letters; an entry has at most {LONGEST:,}.")
    if entry.kind in ("promise", "set_aside") and (entry.on_day is None or entry.on_day <= as_of):
        what = "A promise" if entry.kind == "promise" else "Setting aside"
        raise Stop(f"{what} needs a day after {as_of.isoformat()}, the day of these figures.")
    if entry.kind != "received" and entry.amount is not None and entry.amount <= 0:
        raise Stop("A promised amount is above nil; leave it out where all of it is promised.")


def _found(snapshot: Connection, key: Key, as_of: date) -> tuple[Decimal | None, Decimal | None] | None:
    """What is at stake and what was paid so far, as of the day; None where it has cleared. Raises Stop if unknown."""
    values = [key.rule, key.troop, key.subject]
    done = snapshot.execute(
        "select at_stake, met from follow_up.listed where rule = ? and troop = ? and subject = ? and as_of = ?",
        [*values, as_of],
    ).fetchall()
    if done:
        return done[0][0], done[0][1]
    known = (
        "select 1 from follow_up.runs where rule = ? and troop = ? and subject = ? union all "
        "select 1 from accepted.follow_ups where rule = ? and troop = ? and subject = ? limit 1"
    )
    if not snapshot.execute(known, values * 2).fetchall():
        raise Stop(f"There is no exception {key}. `musterbook follow-up` lists them with their codes.")
    return None


def _is_repeated(con: Connection, who: str, as_of: date, entry: Entry) -> bool:
    key = entry.key
    done = con.execute(
        "select kind, words, on_day, amount, as_of from landed.follow_ups "
        "where rule = ? and troop = ? and subject = ? and written_by = ? order by entry_no desc limit 1",
        [key.rule, key.troop, key.subject, who],
    ).fetchall()
    return bool(done) and done[0] == (entry.kind, entry.words.strip(), entry.on_day, entry.amount, as_of)


def _row(
    key: Key, kind: str, who: str, as_of: date, words: str, found: tuple[Decimal | None, Decimal | None] | None,
    on_day: date | None = None, amount: Decimal | None = None,
) -> tuple[Any, ...]:  # fmt: skip
    at_stake, met = found or (None, None)
    return who, key.rule, key.troop, key.subject, kind, as_of, words, on_day, amount, at_stake, met


def _append(con: Connection, rows: Sequence[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Numbers and keeps rows; the clock set back must not reorder them."""
    last_no, last_at = con.execute(
        "select coalesce(max(entry_no), 0), max(written_at) from landed.follow_ups"
    ).fetchall()[0]
    at: datetime = max(now(), last_at) if last_at else now()
    numbered = [(last_no + place, at, *row) for place, row in enumerate(rows, 1)]
    engine.insert(con, "landed.follow_ups", numbered)
    return numbered


def show(book: Book, con: Connection, table: str) -> None:
    """Publishes the current figures again with all rows of a landed table: only what rests on it is worked out anew."""
    entries = con.execute(f"from landed.{table} order by entry_no").fetchall()

    def make(path: Path) -> None:
        with book.holding() as current:
            shutil.copyfile(current, path)
        aside = engine.connect(path)
        try:
            with engine.transaction(aside):
                aside.execute(f"delete from landed.{table}")  # noqa: S608 - a name of ours
                engine.insert(aside, f"landed.{table}", entries)
                relations.compute_again(aside, f"accepted.{table}")
        finally:
            aside.close()

    book.publish(make)
