"""What both leaders agreed to, and what came differently, as things to follow up.

Comes in: moves of the plan that a coordinator takes up; packages that came on the day of delivery. Goes out: entries
for decisions.write. Nothing is posted by them: figures change once the troops or the organisation report it.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from pipelines.follow_up.decisions import Entry, Key

MOVE, DELIVERY = "move_agreed", "delivery_differs"


def move_key(troop: str, giver: str, receiver: str, item: str) -> Key:
    """How a move that was agreed is named, with one of its two troops."""
    return Key(MOVE, troop, f"{giver} \N{RIGHTWARDS ARROW} {receiver} {item}")


def agreed(moves: Iterable[Mapping[str, Any]]) -> list[Entry]:
    """A thing to follow up with each of the two troops of a move: giver, receiver, item, packages."""
    return [
        Entry(move_key(troop, row["giver"], row["receiver"], row["item"]), "agree", amount=Decimal(row["packages"]))
        for row in moves
        for troop in (row["giver"], row["receiver"])
    ]


def came(troop: str, item: str, packages: int, words: str = "") -> Entry:
    """So many packages came on the day of delivery."""
    return Entry(Key(DELIVERY, troop, item), "received", words, amount=Decimal(packages))
