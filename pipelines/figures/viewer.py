"""Who asks: on whose behalf every figure is read, and what they may see.

Comes in: a name and troops. Goes out: a Viewer.
"""

from dataclasses import dataclass


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
