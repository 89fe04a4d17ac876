"""Who asks: on whose behalf every figure is read, and what they may see.

Comes in: a name and troops. Goes out: a Viewer, and the condition that keeps a query to what the viewer may see.
"""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Viewer:
    """Who asks: `troops` is None for the coordinator, who sees everything; else the troops whose rows may be read.

    With `sees_area` sums over the whole area may be read besides, without any troop's own rows.
    """

    name: str
    troops: frozenset[str] | None = None
    sees_area: bool = False

    def may_see(self, troop: str) -> bool:
        """Whether this viewer may see a troop's figures."""
        return self.troops is None or troop in self.troops


COORDINATOR = Viewer("coordinator")


def allowed(viewer: Viewer, troop: str | None = None) -> tuple[str, list[Any]]:
    """The condition that keeps a query to the troops the viewer may see, or to one of them, and its values."""
    where, values = ["true"], list[Any]()
    if viewer.troops is not None:
        where.append("list_contains(?::varchar[], troop)")
        values.append(sorted(viewer.troops))
    if troop is not None:
        where.append("troop = ?")
        values.append(troop)
    return " and ".join(where), values


def allowed_area(viewer: Viewer) -> tuple[str, list[Any]]:
    """The condition of a query whose rows are sums over all troops, and its values."""
    return ("true" if viewer.troops is None or viewer.sees_area else "false"), []
