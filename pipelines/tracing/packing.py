"""How a line of the packing list is told from cells: promised or ordered, held against what was taken.

Comes in: a TroopTrace, a day, the participant, order (empty: on paper) and item of a line. Goes out: Traced trees.
"""

from datetime import date

from pipelines.tracing.participants import cells_of, fetched, on_paper, to_deliver
from pipelines.tracing.terms import Traced, stated
from pipelines.tracing.troop import PARTED, TroopTrace

IN_TURN = (
    "What was taken is held against orders already delivered, then promises on paper, then orders by their day: the "
    "rows of all of them count."
)


def packages(troop: TroopTrace, day: date, part: str) -> Traced:
    """What the line asks for."""
    who, order, item = part.split(PARTED)
    return to_deliver(troop, day, who, item, order) if order else on_paper(troop, day, who, item)


def to_fetch(troop: TroopTrace, day: date, part: str) -> Traced:
    """What of it is still to be fetched, beside all that was promised, ordered and taken of the item."""
    who, order, item = part.split(PARTED)
    rows = troop.evidence.figures.rows("packing", day, troop.evidence.troop)
    value = next(
        row["to_fetch"]
        for row in rows
        if (row["participant"], row["order_no"] or "", row["item"]) == (who, order, item)
    )
    told = (on_paper(troop, day, who, item), to_deliver(troop, day, who, item), fetched(troop, day, who, item))
    return stated("To fetch", "packages", value, [cell for one in told for cell in cells_of(one)], note=IN_TURN)
