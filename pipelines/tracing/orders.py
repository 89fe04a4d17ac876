"""How online orders that are posted are told from cells.

Comes in: a TroopTrace, a day. Goes out: Traced trees of posted orders and their packages.
"""

from datetime import date

from pipelines.tracing.terms import Cell, Traced, combined, of_cells, stated
from pipelines.tracing.troop import TroopTrace


def _posted(troop: TroopTrace, day: date) -> dict[str, list[Cell]]:
    """The orders that are posted on a day, each with the cells of its packages."""
    found: dict[str, list[Cell]] = {}
    for row in troop.evidence.rows("order_spans"):
        is_open = row["from_on"] <= day and (row["until_on"] is None or row["until_on"] > day)
        if is_open and row["mode"] == "by_post" and row["is_remote"]:
            cell = troop.evidence.cell(row, "online_orders", "packages", row["packages"], note=row["order"])
            found.setdefault(row["order"], []).append(cell)
    return found


def posted_orders(troop: TroopTrace, day: date, _part: str) -> Traced:
    """How many orders are posted."""
    each = [stated(order, "orders", 1, cells) for order, cells in sorted(_posted(troop, day).items())]
    return combined("people", "Posted orders", "orders", *each)


def posted_packages(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The packages of orders that are posted."""
    return of_cells("Posted packages", "packages", [cell for cells in _posted(troop, day).values() for cell in cells])
