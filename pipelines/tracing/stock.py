"""How what is on hand, and how long it lasts, is worked out from cells.

Comes in: a TroopTrace, a day, an item. Goes out: Traced trees.
"""

from datetime import date
from decimal import Decimal

from pipelines.definitions.measures import Unit
from pipelines.tracing.evidence import Row
from pipelines.tracing.terms import Traced, combined, of_cells, stated, total
from pipelines.tracing.troop import TroopTrace

RECENT = "Weeks submitted, the last three at most"
EXPECTED = {  # of items that troops hold; of the others nothing is on hand but what was damaged
    "opening": 1, "depot": 1, "taken_back": -1, "move_in": 1, "move_out": -1, "damage": -1, "exchange": 1,
    "hand_out": -1, "bring_back": -1, "stall_sale": -1,
}  # fmt: skip
SOLD = {
    "hand_out": 1, "bring_back": 1, "donation_out": 1, "donation_back": 1, "stall_sale": 1, "donation_stall": 1,
}  # fmt: skip


def submitted(troop: TroopTrace, day: date, _part: str) -> Traced:
    """Whether rows of stock are accepted for the week that ends on a day."""
    rows = [row for row in troop.evidence.rows("stock") if row["week_ending"] == day]
    cells = [troop.evidence.cell(row, "stock", "item", row["item"]) for row in rows]
    return stated("Submitted", "yes or no", bool(cells), cells)


def _counts(troop: TroopTrace, day: date, item: str = "") -> list[Row]:
    return [row for row in troop.evidence.rows("counts") if row["on_day"] == day and item in ("", row["item"])]


def _counted_on(troop: TroopTrace, day: date, unit: Unit, item: str = "") -> Traced:
    cells = []
    for row in _counts(troop, day, item):
        price = troop.evidence.items[row["item"]]["price"] if unit == "money" else 1
        cells.append(troop.evidence.cell(row, "stock", "on_hand", row["counted"], price, f"{day} count {row['item']}"))
    return of_cells("Counted", unit, cells)


def _expected(troop: TroopTrace, label: str, day: date, unit: Unit, items: set[str]) -> Traced:
    return troop.entries(label, unit, EXPECTED, day, lambda row: row["item"] in items)


def _on_hand(troop: TroopTrace, day: date, unit: Unit) -> Traced:
    counted = {row["item"] for row in _counts(troop, day)}
    rest = _expected(troop, "Should be on hand, not counted", day, unit, troop.evidence.items.keys() - counted)
    return total("On hand", unit, (1, _counted_on(troop, day, unit)), (1, rest))


def _missing(troop: TroopTrace, day: date, unit: Unit, item: str = "") -> Traced:
    counted = {row["item"] for row in _counts(troop, day, item)}
    if item and not counted:
        return stated("Not accounted for", unit, None, note="The item was not counted on that day.")
    expected = _expected(troop, "Should be on hand, of items counted", day, unit, counted)
    return total("Not accounted for", unit, (1, expected), (-1, _counted_on(troop, day, unit, item)))


def on_hand(troop: TroopTrace, day: date, _part: str) -> Traced:
    """What was counted, and what should be there of the items that were not."""
    return _on_hand(troop, day, "packages")


def on_hand_value(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The same at its price."""
    return _on_hand(troop, day, "money")


def missing(troop: TroopTrace, day: date, _part: str) -> Traced:
    """What should be there of the items that were counted, less the count."""
    return _missing(troop, day, "packages")


def missing_value(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The same at its price."""
    return _missing(troop, day, "money")


def missing_of_item(troop: TroopTrace, day: date, item: str) -> Traced:
    """The same of one item."""
    return _missing(troop, day, "packages", item)


def counted(troop: TroopTrace, day: date, item: str) -> Traced:
    """The count of one item."""
    if _counts(troop, day, item):
        return _counted_on(troop, day, "packages", item)
    return stated("Counted", "packages", None, note="The item was not counted on that day.")


def on_hand_or_expected(troop: TroopTrace, day: date, item: str) -> Traced:
    """The count of one item, else what should be there."""
    return troop.of("items", "on_hand" if _counts(troop, day, item) else "expected_on_hand", day, item)


def _recent_weeks(troop: TroopTrace, day: date) -> list[date]:
    return [row["week_ending"] for row in troop.evidence.rows("submitted") if row["week_ending"] <= day][-3:]


def recent_weeks(troop: TroopTrace, day: date) -> Traced:
    """How many of the weeks up to a day count as lately."""
    return stated(RECENT, "weeks", Decimal(len(_recent_weeks(troop, day))))


def recent_sold(troop: TroopTrace, day: date, item: str) -> Traced:
    """What left the stock of one item in the last weeks submitted."""
    weeks = _recent_weeks(troop, day)
    return troop.entries(
        "Sold from stock lately", "packages", SOLD, day, lambda row: row["item"] == item and row["on_day"] in weeks
    )


def weeks_of_supply(troop: TroopTrace, day: date, item: str) -> Traced:
    """What is on hand of one item, by what leaves the stock in a week."""
    if not troop.evidence.items[item]["is_stocked"]:
        return stated("Weeks of supply", "weeks", None, note="Troops do not hold this item.")
    on_hand, sold = (troop.of("items", name, day, item) for name in ("on_hand_or_expected", "recent_sold"))
    times = combined("product", "On hand, times the weeks", "packages", on_hand, recent_weeks(troop, day))
    return combined("quotient", "Weeks of supply", "weeks", times, sold)
