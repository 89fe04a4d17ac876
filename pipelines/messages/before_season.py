"""Opening orders and the day of delivery as sentences, the same on the terminal and on the screen.

Comes in: rows of measures.opening, a DeliveryDay. Goes out: plain text.
"""

from collections.abc import Sequence
from typing import Any

from pipelines.figures.delivery import DeliveryDay, clock
from pipelines.messages.looking_ahead import count

Row = dict[str, Any]


def opening_sentence(rows: Sequence[Row]) -> str:
    """All opening orders in one sentence."""
    if not rows:
        return "No opening order is known yet: neither a supply row of kind opening nor promised packages."
    parts = []
    for word, told in (("above", "far above what they will probably sell"), ("thin", "thin"), ("fits", "fitting")):
        if number := sum(row["word"] == word for row in rows):
            parts.append(f"{number:,} {told}")
    packages = sum(row["ordered"] for row in rows)
    return f"{count(len(rows), 'opening order')} of {count(packages, 'package')} in all: {', '.join(parts)}."


def proposed(row: Row) -> str:
    """The proposal of a troop, where there is one."""
    return f" Proposal in cases: {row['proposal']}." if row["proposal"] else ""


def delivery_lines(made: DeliveryDay, has_vehicles: bool) -> list[str]:
    """What is to be handed out in cases, what fills no case, and on how many vehicles it goes."""
    if not made.picks:
        return []
    by_item = ", ".join(f"{cases:,} {item}" for item, cases in sorted(made.cases.items()))
    lines = [f"{count(sum(made.cases.values()), 'case')} in all: {by_item}."]
    if made.loose:
        told = ", ".join(f"{one.troop} {one.loose} {one.item}" for one in made.loose)
        lines.append(f"Packages that fill no case, told and not rounded: {told}.")
    if not has_vehicles:
        lines.append("No vehicle is known: take in the vehicles table to see loads and slots.")
    elif not made.loads.fits:
        lines.append("The vehicles do not hold it all in one trip each. Another vehicle, or a second trip, is needed.")
    else:
        used = len(made.loads.vehicles)
        fewer = f"fewer than {made.loads.least:,} is impossible"
        ends = f" Loading ends {clock(max(one.ends for one in made.slots))} after the start." if made.slots else ""
        lines.append(f"{count(used, 'vehicle')}; {fewer}.{ends}")
    return lines
