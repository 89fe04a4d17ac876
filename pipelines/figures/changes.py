"""What changed between two states of a book, and why: which file, which rows, by how much.

Comes in: the Figures as they were known and as they are, for one day. Goes out: a Change for each troop, table and day
that its rows count from, newest file first, with its packages, its money and its rows; and the measures that moved.

A row that only stands in a newer file is no change.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import groupby
from typing import Any, cast

from pipelines.figures.figures import Evident, Figures
from pipelines.store import engine

Row = dict[str, Any]
COMPARED: tuple[Evident, ...] = ("entries", "counts", "collections", "cover", "roster")
WITHOUT_ENTRY = {  # kinds of rows that figures rest on and that are no entry of the ledger
    "count": "Counted",
    "collection": "Collection announced",
    "balance": "Bank balance read",
    "registration": "Registered",
}


@dataclass(frozen=True, slots=True)
class Moved:
    """By how much one kind of event changed: packages where it has some, else money."""

    kind: str
    what: str
    packages: int
    amount: Decimal
    rows: int  # gone and new ones together
    rows_more: int  # new ones less those gone


@dataclass(frozen=True, slots=True)
class Line:
    """A row that is new, or that counts no longer: what it says, and where it stands."""

    is_new: bool
    what: str
    about: str  # the item, participant or reference that it names
    packages: int | None
    amount: Decimal | None
    file: str
    sheet: str
    row_no: int


@dataclass(frozen=True, slots=True)
class Change:
    """What a file changed of a troop's table and day. `why`: landed since, accepted since, or the season's rules."""

    troop: str
    table_name: str
    on_day: date
    file: str  # the newest file behind it
    file_no: int
    landed_at: datetime | None
    in_place_of: str  # the file whose rows it takes the place of, empty where there was none
    why: str
    moved: tuple[Moved, ...]
    lines: tuple[Line, ...]

    @property
    def sentence(self) -> str:
        """In words: `Sent again: taken by a family, 14 packages fewer and 84.00 less.`"""
        return f"{self.why}: {self.told()}."

    def told(self, money: Callable[[Decimal], str] = lambda amount: f"{amount:,.2f}") -> str:
        """By how much, kind by kind; `money` says an amount."""
        return "; ".join(_said(one, money) for one in self.moved)


@dataclass(frozen=True, slots=True)
class MovedMeasure:
    """A figure of the standing that is not what it was; no value of a troop that is new or gone."""

    troop: str
    measure: str
    then: Any
    now: Any


def changes(
    earlier: Figures, later: Figures, as_of: date, troop: str | None = None, known_on: datetime | None = None
) -> list[Change]:
    """What the rows that count by a day changed from one state to the other, of one troop or of all.

    `known_on`: when the earlier state was known, where its newest landing does not say so.
    """
    con = engine.connect()
    try:
        for name, figures in (("earlier", earlier), ("later", later)):
            for evident in COMPARED:
                engine.load(con, f"{name}_{evident}", figures.evidence(evident, troop, as_of))
        rows = engine.rows(con, engine.sql("6_ledger", "_changed"))
    finally:
        con.close()
    known = known_on or earlier.files.known_at()
    return sorted(_told(later, known, rows), key=lambda one: (-one.file_no, one.troop, one.table_name, one.on_day))


def moved_measures(earlier: Figures, later: Figures, as_of: date, troop: str | None = None) -> list[MovedMeasure]:
    """Every standing measure that is not what it was, by troop."""
    before = {row["troop"]: row for row in earlier.rows("standing", as_of, troop)}
    after = {row["troop"]: row for row in later.rows("standing", as_of, troop)}
    return [
        MovedMeasure(code, name, then, now)
        for code in sorted(before.keys() | after.keys())
        for name in (after.get(code) or before[code])
        if name not in ("as_of", "troop", "week_no")
        and (then := before.get(code, {}).get(name)) != (now := after.get(code, {}).get(name))
    ]


def _told(later: Figures, known: datetime | None, rows: list[Row]) -> Iterator[Change]:
    kinds = {row["kind"]: row["what"] for row in later.kinds()} | WITHOUT_ENTRY
    names = later.files.landings({row[name] for row in rows for name in ("because_no", "file_no")})
    for (troop, table, on_day), together in groupby(
        rows, key=lambda row: (row["troop"], row["table_name"], row["on_day"])
    ):
        group = list(together)
        new = [row["because_no"] for row in group if row["sign"] > 0]
        old = [row["because_no"] for row in group if row["sign"] < 0]
        file_no = max(new or old)
        landed_at = names[file_no]["landed_at"]
        is_late = known is None or landed_at > known
        why = "No longer told" if not new else "Sent" if not old else "Sent again"
        if new and not is_late:
            why = "Accepted since" if not old else "Other rules since"
        replaced = names[max(old)]["name"] if old and max(old) != file_no else ""
        moved = tuple(_moved(group, kinds))
        lines = tuple(_line(row, kinds, names[row["file_no"]]["name"]) for row in group)
        yield Change(troop, table, on_day, names[file_no]["name"], file_no, landed_at, replaced, why, moved, lines)


def _moved(group: list[Row], kinds: dict[str, str]) -> Iterator[Moved]:
    for kind in dict.fromkeys(row["kind"] for row in group):
        mine = [row for row in group if row["kind"] == kind]
        packages = sum(row["sign"] * (row["packages"] or 0) for row in mine)
        amount = sum((row["sign"] * (row["amount"] or 0) for row in mine), Decimal(0))
        yield Moved(kind, kinds[kind], packages, amount, len(mine), sum(row["sign"] for row in mine))


def _line(row: Row, kinds: dict[str, str], file: str) -> Line:
    about = " ".join(part for part in (row["item"], row["participant"], row["reference"]) if part)
    amount = cast(Decimal | None, row["amount"])
    return Line(row["sign"] > 0, kinds[row["kind"]], about, row["packages"], amount, file, row["sheet"], row["row_no"])


def _said(moved: Moved, money: Callable[[Decimal], str]) -> str:
    """By how much, in packages and money; where neither changed, in rows."""
    parts = []
    if moved.packages:
        parts.append(f"{_counted(moved.packages, 'package')} {'more' if moved.packages > 0 else 'fewer'}")
    if moved.amount:
        parts.append(f"{money(abs(moved.amount))} {'more' if moved.amount > 0 else 'less'}")
    if not parts and moved.rows_more:
        parts.append(f"{_counted(moved.rows_more, 'row')} {'more' if moved.rows_more > 0 else 'fewer'}")
    return f"{moved.what.lower()}, {' and '.join(parts) or 'other rows'}"


def _counted(number: int, what: str) -> str:
    return f"{abs(number):,} {what}{'' if abs(number) == 1 else 's'}"
