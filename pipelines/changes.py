"""What changed between two states of a book, and why: which file, which rows, by how much.

Comes in: the Figures as they were known and as they are, for one day. Goes out: a Change for each troop, table and day
that its rows count from, newest file first, with its packages and money; and the measures that moved.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import groupby
from typing import Any

from pipelines import warehouse
from pipelines.measures import Figures

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Moved:
    """By how much one kind of event changed: packages where it has some, else money."""

    kind: str
    what: str
    packages: int
    amount: Decimal
    rows: int  # gone and new ones together


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

    @property
    def sentence(self) -> str:
        """In words: `sent again on Tuesday: taken by a family, 14 packages fewer; cash and cheques, 84.00 less`."""
        parts = "; ".join(_said(one) for one in self.moved)
        return f"{self.why}: {parts}."


def changes(earlier: Figures, later: Figures, as_of: date, troop: str | None = None) -> list[Change]:
    """What the rows that count by a day changed from one state to the other, of one troop or of all."""
    con = warehouse.connect()
    try:
        for name, figures in (("earlier", earlier), ("later", later)):
            warehouse.load(con, name, figures.evidence("entries", troop, as_of))
            warehouse.load(con, f"{name}_counts", figures.evidence("counts", troop, as_of))
        rows = warehouse.rows(con, warehouse.sql("6_ledger", "_changed"))
    finally:
        con.close()
    return sorted(_told(earlier, later, rows), key=lambda one: (-one.file_no, one.troop, one.table_name, one.on_day))


def moved_measures(
    earlier: Figures, later: Figures, as_of: date, troop: str | None = None
) -> list[tuple[str, str, Any, Any]]:
    """Every standing measure that is not what it was: troop, measure, then, now; troops new or gone have no value."""
    before = {row["troop"]: row for row in earlier.rows("standing", as_of, troop)}
    after = {row["troop"]: row for row in later.rows("standing", as_of, troop)}
    return [
        (code, name, then, now)
        for code in sorted(before.keys() | after.keys())
        for name in (after.get(code) or before[code])
        if name not in ("as_of", "troop", "week_no")
        and (then := before.get(code, {}).get(name)) != (now := after.get(code, {}).get(name))
    ]


def _told(earlier: Figures, later: Figures, rows: list[Row]) -> Iterator[Change]:
    kinds = {row["kind"]: row["what"] for row in later.kinds()} | {"count": "Counted"}
    names = later.landings({row["because_no"] for row in rows})
    known = earlier.known_at()
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
        yield Change(troop, table, on_day, names[file_no]["name"], file_no, landed_at, replaced, why, moved)


def _moved(group: list[Row], kinds: dict[str, str]) -> Iterator[Moved]:
    for kind in dict.fromkeys(row["kind"] for row in group):
        mine = [row for row in group if row["kind"] == kind]
        packages = sum(row["sign"] * (row["packages"] or 0) for row in mine)
        amount = sum((row["sign"] * (row["amount"] or 0) for row in mine), Decimal(0))
        yield Moved(kind, kinds[kind], packages, amount, len(mine))


def _said(moved: Moved) -> str:
    """By how much, in packages and money; where neither changed, that rows differ."""
    parts = []
    if moved.packages:
        parts.append(f"{abs(moved.packages):,} packages {'more' if moved.packages > 0 else 'fewer'}")
    if moved.amount:
        parts.append(f"{abs(moved.amount):,.2f} {'more' if moved.amount > 0 else 'less'}")
    return f"{moved.what.lower()}, {' and '.join(parts) or 'other rows'}"
