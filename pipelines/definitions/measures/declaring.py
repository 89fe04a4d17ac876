"""How a measure is declared: what it is called, what it means, how it is made, where it is shown.

Comes in: nothing. Goes out: Measure, and the ways of making one: Entries, Sum, Ratio, Limit, Count, Own. From a
declaration follow the SQL of all but Own, the trace, the glossary, the area's figure and every list of columns.
"""

from dataclasses import dataclass
from typing import Literal

Unit = Literal[
    "packages",
    "money",
    "share",  # between 0 and 1; shown in per cent
    "rate",  # money for a package, four decimals
    "average",  # packages for each participant, or a week
    "participants",
    "number",  # a part or a weight, three decimals
    "weeks",
    "days",
    "troops",
    "orders",
    "date",
    "yes or no",
    "code",
    "text",
]
ADDED_UP: tuple[Unit, ...] = ("packages", "money", "participants", "orders")

Place = Literal[
    "csv",  # the roll-up's tables, and what the terminal prints for machines
    "all troops",  # on the terminal, of every troop
    "packages",  # on the terminal, of one troop
    "places",  # where every dollar is: workbook, statements, terminal
    "money",  # money with the organisation: workbook and terminal
    "people",  # taking part: workbook and terminal
    "troops",  # the workbook's sheet of troops
    "items",  # the workbook's sheet of items
    "area",  # the workbook's sheet of the area
]
CSV: Place = "csv"
ALL_TROOPS: Place = "all troops"
PACKAGES: Place = "packages"
PLACES: Place = "places"
MONEY: Place = "money"
PEOPLE: Place = "people"
TROOPS: Place = "troops"
ITEMS: Place = "items"
AREA: Place = "area"


class Entries:
    """Entries of the double entry added up, by kind (6_ledger/kinds.sql): +1 counts, -1 is taken off.

    In money it is their amounts, else their packages, as the cells say them: what is brought back is below 0 there.
    """

    def __init__(self, **kinds: int) -> None:
        self.kinds = kinds


class Sum:
    """Measures of the same row added up, "-" before one that is taken off; one without a value counts as nothing."""

    def __init__(self, *terms: str) -> None:
        self.signed = {term.removeprefix("-"): -1 if term.startswith("-") else 1 for term in terms}


@dataclass(frozen=True, slots=True)
class Ratio:
    """Measures of the same row, one divided by the other; no value where nothing stands below the line."""

    above: str | tuple[str, ...]
    below: str

    @property
    def over(self) -> tuple[str, ...]:
        return (self.above,) if isinstance(self.above, str) else self.above


@dataclass(frozen=True, slots=True)
class Limit:
    """One end of the 95 % Wilson score interval of a share of two measures of the same row."""

    end: Literal["lower limit", "upper limit"]
    some: str
    of: str


@dataclass(frozen=True, slots=True)
class Count:
    """How many rows of the troops, or of their items, are so."""

    of: str
    so: Literal["> 0", "< 0", "is true", "is not null"]


@dataclass(frozen=True, slots=True)
class Own:
    """Truly its own: a column of an SQL file of 4_measures, and `trace`, a function of tracing/: module.function."""

    relation: str
    trace: str


Made = Entries | Sum | Ratio | Limit | Count | Own


@dataclass(frozen=True, slots=True)
class After:
    """A place where a measure stands after another one, and not in the order of declaration."""

    place: Place
    name: str


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure. `made` None: it names a row, or a screen makes it. Goes out as a column `name`.

    `divides_by`: of a ratio, in words, what stands below the line. `caution`: what it does not say. `adds_up`: whether
    the area's is the sum of the troops' (None: as its unit does). `has_bar`: in a workbook, drawn in its cells.
    """

    name: str
    label: str
    unit: Unit
    meaning: str
    made: Made | None = None
    divides_by: str = ""
    caution: str = ""
    adds_up: bool | None = None
    shown: tuple[Place | After, ...] = ()
    has_bar: bool = False

    @property
    def is_added_up(self) -> bool:
        """Whether the area's figure is the sum of the troops'."""
        is_sum = isinstance(self.made, Entries | Sum | Own)
        return is_sum and (self.unit in ADDED_UP if self.adds_up is None else self.adds_up)

    @property
    def needs(self) -> tuple[str, ...]:
        """The measures of the same row that it is made of."""
        match self.made:
            case Sum():
                return tuple(self.made.signed)
            case Ratio():
                return (*self.made.over, self.made.below)
            case Limit():
                return (self.made.some, self.made.of)
            case _:
                return ()

    @property
    def terms(self) -> tuple[str, ...]:
        """What it is said to add up from, "-" before what is taken off; of a ratio the last stands below the line."""
        if isinstance(self.made, Sum):
            return tuple(f"-{name}" if sign < 0 else name for name, sign in self.made.signed.items())
        return self.needs if isinstance(self.made, Ratio) else ()
