"""How a measure of a troop, an item or a family is worked out from its cells: a second way, apart from SQL.

Comes in: Evidence. Goes out: Traced trees. Sums and quotients follow the glossary's own terms; what a cell counts in is
told by PARTS; what is neither has a method of its own, `_<relation>_<measure>`, in formulas_sold or formulas_owed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from pipelines.definitions.measures import Measure, Unit, measure
from pipelines.tracing.evidence import Evidence, Row
from pipelines.tracing.terms import Cell, Traced, combined, of_cells, total

OUT = {"hand_out": 1, "bring_back": 1}
DONATED = {"donation_out": 1, "donation_back": 1}
REMOTE = {"remote_order": 1, "remote_order_undone": -1}
BY_HAND = {"hand_order": 1, "hand_order_undone": -1}


@dataclass(frozen=True, slots=True)
class Part:
    """Cells that count together: the kinds of entries with the sign of each, and the sign of all in the figure."""

    label: str
    kinds: dict[str, int]
    sign: int = 1


SUPPLIED = Part("Supplied", {"opening": 1, "depot": 1, "taken_back": -1})
MOVED_IN, MOVED_OUT = Part("Moved in", {"move_in": 1}), Part("Moved out", {"move_out": 1}, -1)
DAMAGED = Part("Damaged, less exchanged", {"damage": 1, "exchange": -1})
TAKEN = Part("Taken by families", OUT | DONATED)
AT_STALLS = Part("Sold at stalls", {"stall_sale": 1, "donation_stall": 1})
NEVER_HELD = Part("Donations handed out and sold at stalls", DONATED | {"donation_stall": 1})
CASH = Part("Families' cash", {"family_cash": 1})
CARD = Part("Families' card money", {"family_card": 1})
STALL_CASH, STALL_CARD = Part("Stalls' cash", {"stall_cash": 1}), Part("Stalls' card money", {"stall_card": 1})
AVAILABLE = (SUPPLIED, MOVED_IN, MOVED_OUT, NEVER_HELD)
EXPECTED = (  # of items that troops hold; of the others nothing is on hand but what was damaged
    SUPPLIED, MOVED_IN, MOVED_OUT, Part(DAMAGED.label, DAMAGED.kinds, -1),
    Part(TAKEN.label, OUT, -1), Part(AT_STALLS.label, {"stall_sale": 1}, -1),
)  # fmt: skip
PARTS: dict[str, tuple[Part, ...]] = {
    "available": AVAILABLE,
    "available_value": AVAILABLE,
    "sold_from_stock": (TAKEN, AT_STALLS),
    "handed_out": (TAKEN,),
    "stall": (AT_STALLS,),
    "supplied": (SUPPLIED,),
    "moved_in": (MOVED_IN,),
    "moved_out": (Part("Moved out", MOVED_OUT.kinds),),
    "damaged": (DAMAGED,),
    "damaged_value": (DAMAGED,),
    "expected_on_hand": EXPECTED,
    "remote": (Part("Posted and donated", REMOTE),),
    "remote_value": (Part("Posted and donated", REMOTE),),
    "by_hand_value": (Part("Delivered by hand", BY_HAND),),
    "cash": (CASH, STALL_CASH),
    "card": (CARD, STALL_CARD),
    "banked": (Part("Deposits", {"deposit": 1}),),
    "stall_sold_value": (AT_STALLS,),
    "stall_takings": (STALL_CASH, STALL_CARD),
    "remitted": (Part("Cleared payments", {"remittance": 1, "remittance_undone": -1}),),
    "settled_otherwise": (Part("Adjustments that name a participant", {"settlement": 1}),),
    "adjustments": (Part("Adjustments", {"adjustment": 1, "settlement": 1}),),
    "families_owe": (
        TAKEN, Part(CASH.label, CASH.kinds, -1), Part(CARD.label, CARD.kinds, -1),
        Part("Online orders they deliver", BY_HAND, -1), Part("Settled otherwise", {"settlement": 1}, -1),
    ),
    "taken": (Part("Taken", {"hand_out": 1, "donation_out": 1}),),
    "brought_back": (Part("Brought back", {"bring_back": -1, "donation_back": -1}),),
    "paid_cash": (CASH,),
    "paid_card": (CARD,),
    "settled": (Part("Settled otherwise", {"settlement": 1}),),
}  # fmt: skip
ONLY: dict[tuple[str, str], tuple[Part, ...]] = {  # what a name means in one relation alone
    ("families", "charged"): (TAKEN,),
    ("families", "paid_online"): (Part("Online orders that the participant delivers", BY_HAND),),
}
Scope = Literal["standing", "items", "families", "steps", "dues"]


class Formulas:
    """The measures of one troop, each worked out once a day asked for."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self._made: dict[tuple[str, str, str, date], Traced] = {}

    def of(self, relation: Scope, name: str, day: date, part: str = "") -> Traced:
        """One measure; `part`: the item or the participant it is of. Raises KeyError where it is not known."""
        key = (relation, name, part, day)
        if key not in self._made:
            told = self._told(relation, name)
            made = self._make(relation, name, told, day, part)
            self._made[key] = made.named(told.label, told.meaning)
        return self._made[key]

    def _told(self, relation: Scope, name: str) -> Measure:
        return measure(relation, name)

    def _make(self, relation: Scope, name: str, told: Measure, day: date, part: str) -> Traced:
        parts = ONLY.get((relation, name)) or PARTS.get(name)
        if parts:
            return self.parts(told.label, told.unit, parts, day, self.within(relation, part))
        special: Callable[[date, str], Traced] | None = getattr(self, f"_{relation}_{name}", None)
        if special:
            return special(day, part)
        signed = [(-1 if term.startswith("-") else 1, term.removeprefix("-")) for term in told.terms]
        terms = [(sign, self.of(relation, term, day, part)) for sign, term in signed]
        if not terms:
            raise KeyError(f"{relation}.{name}")
        if not told.divides_by:
            return total(told.label, told.unit, *terms)
        above = terms[0][1] if len(terms) == 2 else total("Above the line", terms[0][1].unit, *terms[:-1])
        return combined("quotient", told.label, told.unit, above, terms[-1][1])

    def within(self, relation: Scope, part: str) -> Callable[[Row], bool]:
        """Whether an entry is of the item or participant asked for."""
        column = {"items": "item", "families": "participant"}.get(relation, "")
        return (lambda row: row[column] == part) if column else (lambda _row: True)

    def parts(
        self, label: str, unit: Unit, parts: tuple[Part, ...], day: date, within: Callable[[Row], bool]
    ) -> Traced:
        """Entries up to a day, by parts: as packages, or in money, packages at their price."""
        made = [(part.sign, self._part(part, unit, day, within)) for part in parts]
        return made[0][1].named(label) if len(made) == 1 else total(label, unit, *made)

    def _part(self, part: Part, unit: Unit, day: date, within: Callable[[Row], bool]) -> Traced:
        rows = [
            row for row in self.evidence.entries if row["on_day"] <= day and row["kind"] in part.kinds and within(row)
        ]
        return of_cells(part.label, unit, [self._counted(row, part.kinds[row["kind"]], unit) for row in rows])

    def _counted(self, row: Row, sign: int, unit: Unit) -> Cell:
        """The cell that says an entry's packages or amount."""
        table = row["table_name"]
        if unit == "money" and row["amount_in"]:
            return self.evidence.cell(row, table, row["amount_in"], row["amount"], sign, self._said(row))
        factor = sign * row["price"] if unit == "money" else Decimal(sign)
        return self.evidence.cell(row, table, row["packages_in"], row["packages"], factor, self._said(row))

    def _said(self, row: Row) -> str:
        told = [str(row["on_day"]), row["kind"].replace("_", " "), row["item"], row["participant"], row["reference"]]
        return " ".join(part for part in told if part)
