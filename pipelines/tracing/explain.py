"""How a figure is made: its definition, the terms that add up to it, and the cells behind each of them.

Comes in: Figures, a measure's name, a troop, a day. Goes out: a Traced tree, whose leaves are cells of landed files.
The area's figures are traced in area.
"""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.definitions.measures import RELATIONS
from pipelines.figures.figures import Figures
from pipelines.tracing.evidence import Evidence
from pipelines.tracing.terms import Cell, Traced
from pipelines.tracing.troop import PARTED, AreaScope, Scope, TroopTrace

PART_OF: dict[Scope, tuple[str, ...]] = {
    "standing": (), "items": ("item",), "families": ("participant",), "steps": (), "dues": ("due_on",),
    "outlook": ("item",), "participants": ("participant",), "awards": ("participant", "award"), "to_buy": ("award",),
    "packing": ("participant", "order_no", "item"), "postage": ("order_no",),
}  # fmt: skip


def part_of(relation: Scope, row: Mapping[str, Any]) -> str:
    """What tells a row of a relation from the troop's others, as `part` of a trace."""
    return PARTED.join(str(row.get(name) or "") for name in PART_OF[relation])


class Tracer:
    """Traces the figures of one troop on one day; what they rest on is read once."""

    def __init__(self, figures: Figures, troop: str, as_of: date) -> None:
        if not figures.viewer.may_see(troop) or not figures.facts("troops", troop):
            raise Stop(f"There is no troop {troop} here. `musterbook standing` lists the troops.")
        self.as_of = as_of
        self.troop = TroopTrace(Evidence(figures, troop, as_of))

    def of(self, relation: Scope, measure: str, part: str = "") -> Traced:
        """One figure; `part`: as part_of says it. Raises Stop where there is no such measure."""
        if measure not in measures_of(relation):
            raise Stop(f"There is no measure {measure}. There are: {', '.join(measures_of(relation))}.")
        return self.troop.of(relation, measure, self.as_of, part)


def trace(figures: Figures, relation: Scope, measure: str, as_of: date, troop: str, part: str = "") -> Traced:
    """How one figure of a troop is made; `part`: what tells its row from the troop's others, as part_of says it."""
    return Tracer(figures, troop, as_of).of(relation, measure, part)


def measures_of(relation: Scope | AreaScope) -> list[str]:
    """The measures of a relation that can be traced: all but those that name a row, or that a screen makes."""
    return [name for name, one in RELATIONS[relation].items() if one.made]


def leaves(traced: Traced) -> Iterator[tuple[Traced, Cell]]:
    """Every cell of a tree with the term it counts in, each as often as it counts."""
    for cell in traced.cells:
        yield traced, cell
    for _sign, term in traced.terms:
        yield from leaves(term)
