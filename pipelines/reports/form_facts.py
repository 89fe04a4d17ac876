"""What a form is prefilled with: what the book knows of a troop when a week begins.

Comes in: the Week that ended seven days earlier. Goes out: a Known.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from pipelines.definitions.contract import OUTSIDE, OWN_PAGE
from pipelines.definitions.season import Item
from pipelines.reports.week import Row, Week


@dataclass(frozen=True)
class Known:
    """What is known of a troop when its form is made."""

    troop: str
    ends: date  # the last day of the week to report
    items: Sequence[Item]
    expected: dict[str, int]  # packages that should have been on hand at the end of the week before
    counted: dict[str, tuple[int, date]]  # the last count and the end of its week
    supplied: dict[str, int]  # packages that the supply record shows for the week
    participants: Sequence[str]
    owed: dict[str, Decimal]  # by families at the end of the week before
    other_troops: Sequence[str]
    promised: dict[str, dict[str, int]]  # packages by item, as they were told last
    awards: Sequence[tuple[str, str, str, date | None]]  # participant, award, steps, handed on, as they were told last

    @property
    def starts(self) -> date:
        return self.ends - timedelta(days=6)


def known(before: Week, troop: str, ends: date) -> Known:
    """What the book knows of a troop; `before` is the Week that ended seven days earlier."""
    figures = before.figures
    starts = ends - timedelta(days=6)
    counted: dict[str, tuple[int, date]] = {}
    for row in figures.facts("stock", troop):
        if row["on_hand"] is not None and row["week_ending"] < ends:
            counted[row["item"]] = (row["on_hand"], row["week_ending"])
    supplied: dict[str, int] = {}
    for row in figures.facts("supply", troop):
        if starts <= row["date"] <= ends:
            change = -row["packages"] if row["kind"] == "returned" else row["packages"]
            supplied[row["item"]] = supplied.get(row["item"], 0) + change
    families = before.families.get(troop, [])
    on_roster = {
        row["participant"]
        for row in figures.facts("roster", troop)
        if row["registered_on"] <= ends and (row["left_on"] is None or row["left_on"] > starts)
    }
    participants = sorted((on_roster | {row["participant"] for row in families}) - {OWN_PAGE})
    items = before.items.get(troop, [])
    return Known(
        troop, ends, before.season.items, {row["item"]: row["expected_on_hand"] for row in items}, counted, supplied,
        [*participants, OWN_PAGE], {row["participant"]: row["owes"] for row in families},
        [*(code for code in before.troops if code != troop), OUTSIDE], _promised(before, troop, ends),
        _awards(before, troop, ends),
    )  # fmt: skip


def newest(rows: Sequence[Row], by: Sequence[str], before: date) -> list[Row]:
    """Of rows in the order of their weeks those of the newest week of each participant (and award) before a day."""
    known = [row for row in rows if row["week_ending"] < before]
    last = {tuple(row[name] for name in by): row["week_ending"] for row in known}
    return [row for row in known if row["week_ending"] == last[tuple(row[name] for name in by)]]


def _promised(before: Week, troop: str, ends: date) -> dict[str, dict[str, int]]:
    found: dict[str, dict[str, int]] = {}
    for row in newest(before.figures.facts("promised", troop), ("participant",), ends):
        if row["item"]:
            found.setdefault(row["participant"], {})[row["item"]] = row["packages"]
    return found


def _awards(before: Week, troop: str, ends: date) -> list[tuple[str, str, str, date | None]]:
    rows = newest(before.figures.facts("awards", troop), ("participant", "award"), ends)
    told = [(r["participant"], r["award"], ", ".join(map(str, r["steps"] or ())), r["handed_on"]) for r in rows]
    return sorted(told, key=lambda one: one[:2])
