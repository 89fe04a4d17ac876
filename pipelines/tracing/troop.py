"""How the measures of one troop, its items and families are worked out from cells: a second way, apart from SQL.

Comes in: Evidence. Goes out: Traced trees. Entries, sums, ratios and limits follow their declarations; a measure that
is truly its own is worked out by the function that it names, in the modules of this package.
"""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from importlib import import_module
from typing import Literal, cast

from pipelines.definitions.measures import RELATIONS, Entries, Limit, Measure, Own, Ratio, Sum, Unit
from pipelines.tracing.evidence import Evidence, Row
from pipelines.tracing.terms import Cell, Traced, combined, of_cells, total

Scope = Literal[
    "standing", "items", "families", "steps", "dues", "outlook", "participants", "awards", "to_buy", "packing",
    "postage",
]  # fmt: skip
AreaScope = Literal["area", "item_totals"]
Within = Callable[[Row], bool]
COLUMN_OF = {"items": "item", "families": "participant"}  # what an entry says of the row that it counts in
PARTED = "|"  # between the parts of a row that is told by several
UNDONE = "_undone"  # of the name of a kind that takes back another


class TroopTrace:
    """The measures of one troop, each worked out once a day asked for."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self._made: dict[tuple[str, str, str, date], Traced] = {}

    def of(self, relation: Scope, name: str, day: date, part: str = "") -> Traced:
        """One measure; `part`: the item, participant or due date it is of. Raises KeyError where it is not declared."""
        key = (relation, name, part, day)
        if key not in self._made:
            told = RELATIONS[relation][name]
            self._made[key] = self._make(relation, told, day, part).named(told.label, told.meaning)
        return self._made[key]

    def _make(self, relation: Scope, told: Measure, day: date, part: str) -> Traced:
        match told.made:
            case Entries(kinds=kinds):
                column = COLUMN_OF.get(relation)
                return self.entries(told.label, told.unit, kinds, day, lambda row: not column or row[column] == part)
            case Own(trace=trace):
                return own_way(trace)(self, day, part)
            case _:
                return of_others(told, lambda name: self.of(relation, name, day, part))

    def entries(self, label: str, unit: Unit, kinds: dict[str, int], day: date, within: Within) -> Traced:
        """Entries up to a day, as packages or in money: the cells of one kind, or a term for each kind."""
        rows: dict[str, list[Row]] = {kind.removesuffix(UNDONE): [] for kind in kinds}
        for row in self.evidence.entries:
            if row["kind"] in kinds and row["on_day"] <= day and within(row):
                rows[row["kind"].removesuffix(UNDONE)].append(row)
        if len(rows) == 1:
            return of_cells(
                label, unit, [self.counted(row, kinds[row["kind"]], unit) for row in next(iter(rows.values()))]
            )
        terms = []
        for kind, listed in rows.items():
            sign = kinds[kind]
            cells = [self.counted(row, sign * kinds[row["kind"]], unit) for row in listed]
            terms.append((sign, of_cells(self.evidence.kinds[kind], unit, cells)))
        return total(label, unit, *terms)

    def counted(self, row: Row, sign: int, unit: Unit) -> Cell:
        """The cell that says an entry's packages or amount."""
        table = row["table_name"]
        told = [str(row["on_day"]), row["kind"].replace("_", " "), row["item"], row["participant"], row["reference"]]
        note = " ".join(part for part in told if part)
        if unit == "money" and row["amount_in"]:
            return self.evidence.cell(row, table, row["amount_in"], row["amount"], sign, note)
        factor = sign * row["price"] if unit == "money" else Decimal(sign)
        return self.evidence.cell(row, table, row["packages_in"], row["packages"], factor, note)


def own_way(trace: str) -> Callable[..., Traced]:
    """The function that a measure of its own is worked out by, from its name in the declaration."""
    module, _, name = trace.partition(".")
    return cast(Callable[..., Traced], getattr(import_module(f"pipelines.tracing.{module}"), name))


def of_others(told: Measure, find: Callable[[str], Traced]) -> Traced:
    """A measure that is made of others of its row, each found by its name."""
    match told.made:
        case Sum(signed=signed):
            terms = [(sign, find(name)) for name, sign in signed.items()]
            return total(told.label, told.unit, *(term for term in terms if term[1].value is not None))
        case Ratio(over=over, below=below):
            above = [find(name) for name in over]
            one = (
                above[0] if len(above) == 1 else total("Above the line", above[0].unit, *((1, term) for term in above))
            )
            return combined("quotient", told.label, told.unit, one, find(below))
        case Limit(end=end, some=some, of=of):
            return combined(end, told.label, "share", find(some), find(of))
    raise KeyError(told.name)
