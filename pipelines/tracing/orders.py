"""How online orders that are posted, and what they cost to send, are told from cells.

Comes in: a TroopTrace, a day, an order's number. Goes out: Traced trees of posted orders, their packages and postage.
"""

from datetime import date

from pipelines.tracing.evidence import Row
from pipelines.tracing.terms import Cell, Traced, combined, of_cells, picked, stated, total
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


# Postage: what the organisation asked, what the season's tiers come to


def packages(troop: TroopTrace, day: date, order: str) -> Traced:
    """The order's packages, a gift box as what it holds."""
    boxes = {code: item["box_of"] for code, item in troop.evidence.items.items()}
    cells = [
        troop.evidence.cell(row, "online_orders", "packages", row["packages"], boxes[row["item"]], note=row["item"])
        for row in troop.evidence.rows("order_spans")
        if row["order"] == order and row["is_remote"] and _holds(row, day)
    ]
    return of_cells("Packages", "packages", cells)


def _holds(row: Row, day: date) -> bool:
    return bool(row["from_on"] <= day and (row["until_on"] is None or row["until_on"] > day))


def _told(troop: TroopTrace, day: date, order: str, column: str) -> Row | None:
    """The newest row of an order that says something in a column; one of a later day only where none is older."""
    rows = [row for row in troop.evidence.rows("online_orders") if row["order"] == order and row[column] is not None]
    return max(
        rows,
        key=lambda row: (row["state_on"] <= day, row["state_on"] if row["state_on"] <= day else date.min, row[column]),
        default=None,
    )


def asked(troop: TroopTrace, day: date, order: str) -> Traced:
    """What the organisation asked, as its newest row says."""
    row = _told(troop, day, order, "shipping_amount")
    told = [row] if row else []
    cells = [troop.evidence.cell(one, "online_orders", "shipping_amount", one["shipping_amount"]) for one in told]
    return of_cells("Postage asked", "money", cells)


def zone(troop: TroopTrace, day: date, order: str) -> Traced:
    """Near, unless a row says otherwise."""
    row = _told(troop, day, order, "zone")
    if row is None:
        return stated("Goes", "text", "near", note="No row says how far it goes: near.")
    return picked("Goes", "text", troop.evidence.cell(row, "online_orders", "zone", row["zone"]))


def ours(troop: TroopTrace, day: date, order: str) -> Traced:
    """The top tier as often as it goes whole, the tier of the rest, and what is added to an order that goes far."""
    tiers = list(enumerate(troop.evidence.figures.season_postage(), 1))
    number = int(packages(troop, day, order).value)
    whole, rest = divmod(number, tiers[-1][1]["up_to"])
    terms = []
    for place, tier in tiers:
        times = (whole if place == len(tiers) else 0) + (0 < rest <= tier["up_to"])
        if times:
            said = f"Up to {tier['up_to']} packages, {'once' if times == 1 else f'{times} times'}"
            cell = troop.evidence.rule(f"online.postage[{place}].price", tier["price"], times)
            terms.append((1, of_cells(said, "money", [cell])))
        if rest <= tier["up_to"]:
            rest = 0
    if zone(troop, day, order).value == "far":
        far = troop.evidence.rule("online.far", troop.evidence.rules["far"])
        terms.append((1, of_cells("Goes far", "money", [far])))
    return total("By the season's tiers", "money", *terms)
