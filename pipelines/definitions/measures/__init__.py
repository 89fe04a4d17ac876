"""Every measure, declared once: its label, its unit, what it means, how it is made, where it is shown.

Comes in: the declarations, a module for each noun. Goes out: RELATIONS, read by the SQL that is made of them, by
traces, screens and papers. A new measure that is a sum is one declaration here and one line of tests/support/oracle.py.
"""

from pipelines.definitions.measures.area import AREA
from pipelines.definitions.measures.declaring import (
    After,
    Count,
    Entries,
    Limit,
    Made,
    Measure,
    Own,
    Place,
    Ratio,
    Sum,
    Unit,
)
from pipelines.definitions.measures.dues import DUES
from pipelines.definitions.measures.exceptions import EXCEPTIONS
from pipelines.definitions.measures.families import FAMILIES
from pipelines.definitions.measures.items import ITEM_TOTALS, ITEMS
from pipelines.definitions.measures.outlook import OUTLOOK
from pipelines.definitions.measures.participants import AWARDS, PACKING, PARTICIPANTS, POSTAGE, TO_BUY
from pipelines.definitions.measures.standing import STANDING
from pipelines.definitions.measures.steps import STEPS

__all__ = [
    "RELATIONS", "After", "Count", "Entries", "Limit", "Made", "Measure", "Own", "Place", "Ratio", "Sum", "Unit",
    "columns", "label", "measure",
]  # fmt: skip
Measures = dict[str, Measure]


def _named(*measures: Measure) -> Measures:
    return {one.name: one for one in measures}


def _of_all(own: tuple[Measure, ...], of_troops: tuple[Measure, ...]) -> Measures:
    """What all troops have together: what adds up, what is divided or limited of that, and what is their own."""
    known = {one.name for one in of_troops if one.is_added_up} | {one.name for one in own}
    made = [one for one in of_troops if one.name in known or (one.needs and known.issuperset(one.needs))]
    return _named(*made, *own)


RELATIONS: dict[str, Measures] = {
    "standing": _named(*STANDING),
    "items": _named(*ITEMS),
    "families": _named(*FAMILIES),
    "dues": _named(*DUES),
    "outlook": _named(*OUTLOOK),
    "steps": _named(*STEPS),
    "area": _of_all(AREA, (*STANDING, *STEPS)),
    "item_totals": _of_all(ITEM_TOTALS, ITEMS),
    "participants": _named(*PARTICIPANTS),
    "awards": _named(*AWARDS),
    "to_buy": _named(*TO_BUY),
    "packing": _named(*PACKING),
    "postage": _named(*POSTAGE),
    "exceptions": _named(*EXCEPTIONS),
}
COMMON = RELATIONS["items"] | RELATIONS["area"] | RELATIONS["standing"]


def measure(relation: str, name: str) -> Measure:
    """What a column of a relation means; raises KeyError where nobody has declared it."""
    if found := RELATIONS[relation].get(name) or COMMON.get(name):
        return found
    raise KeyError(f"{relation}.{name} is not declared")


def label(relation: str, name: str) -> str:
    """A column's heading."""
    return measure(relation, name).label


def columns(relation: str, place: Place) -> tuple[str, ...]:
    """The measures of a relation that are shown in a place, in its order."""
    placed = [(name, where) for name, one in RELATIONS[relation].items() for where in one.shown]
    order = [name for name, where in placed if where == place]
    moved = [(name, where.name) for name, where in placed if isinstance(where, After) and where.place == place]
    while moved:
        name, after = next(one for one in moved if one[1] in order)
        order.insert(order.index(after) + 1, name)
        moved.remove((name, after))
    return tuple(order)
