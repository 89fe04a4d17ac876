"""What a figure is made of: terms that add up to it, down to the cells that say the numbers.

Comes in: cells and terms. Goes out: Traced trees, and what a tree comes to when it is worked out from its cells alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from math import prod, sqrt
from statistics import median
from typing import Any, Literal

from pipelines.definitions.measures import Unit

How = Literal[
    "cells",  # its cells, each times its factor
    "sum",  # its terms, each with its sign
    "product",  # its terms multiplied, to the cent where it is money
    "quotient",  # the first term divided by the second
    "least",  # the smallest of its terms
    "greatest",  # the largest of its terms
    "people",  # how many its terms are
    "picked",  # what its one cell says
    "stated",  # what is so, with the cells that show it
    "median",  # the middle one of its terms, or the mean of the two in the middle
    "lower limit",  # of the share of two terms, Wilson's score interval at 95 %
    "upper limit",
]
CENT = Decimal("0.01")
Age = Literal["0_7", "8_14", "15_30", "over_30"]
AGES: dict[Age, tuple[int, int]] = {"0_7": (0, 7), "8_14": (8, 14), "15_30": (15, 30), "over_30": (31, 100_000)}
Z = 1.959963984540054  # of the interval at 95 %


@dataclass(frozen=True, slots=True)
class Cell:
    """A number in a file: `value` as it stands, counted `factor` times (a price, a sign). `file` as it was sent."""

    file_no: int
    file: str
    sheet: str
    cell: str  # as a spreadsheet names it, or the key in season.toml
    value: Any
    factor: Decimal = Decimal(1)
    note: str = ""

    @property
    def counted(self) -> Decimal:
        """What it adds to the figure."""
        return Decimal(self.value) * self.factor


@dataclass(frozen=True, slots=True)
class Traced:
    """A figure, how it comes about, and what from. `meaning` in words where the glossary has it."""

    label: str
    unit: Unit
    value: Any
    how: How
    terms: tuple[tuple[int, "Traced"], ...] = ()  # each with its sign
    cells: tuple[Cell, ...] = ()
    meaning: str = ""
    note: str = ""

    def named(self, label: str, meaning: str = "") -> "Traced":
        """The same under another name."""
        return replace(self, label=label, meaning=meaning or self.meaning)


def of_cells(label: str, unit: Unit, cells: Sequence[Cell]) -> Traced:
    """The sum of cells."""
    return _made(Traced(label, unit, None, "cells", cells=tuple(cells)))


def total(label: str, unit: Unit, *terms: tuple[int, Traced]) -> Traced:
    """The sum of terms, each with its sign; terms without a cell are left out."""
    return _made(Traced(label, unit, None, "sum", tuple(term for term in terms if not _is_empty(term[1]))))


def combined(how: How, label: str, unit: Unit, *terms: Traced, note: str = "") -> Traced:
    """A product, a quotient, the least or greatest of terms, a limit of a share, or a number of people."""
    return _made(Traced(label, unit, None, how, tuple((1, term) for term in terms), note=note))


def picked(label: str, unit: Unit, cell: Cell, *because: Traced) -> Traced:
    """What one cell says; `because`: what it was picked by."""
    return _made(Traced(label, unit, None, "picked", tuple((1, term) for term in because), (cell,)))


def stated(label: str, unit: Unit, value: Any, cells: Sequence[Cell] = (), note: str = "") -> Traced:
    """What is so: a constant, a day, a yes or no."""
    return Traced(label, unit, value, "stated", cells=tuple(cells), note=note)


def not_below_0(label: str, unit: Unit, term: Traced) -> Traced:
    """A term, or 0 where it is negative."""
    return combined("greatest", label, unit, term, stated("0", unit, Decimal(0)))


def _is_empty(traced: Traced) -> bool:
    return traced.how in ("cells", "sum") and not traced.cells and not traced.terms


def _made(traced: Traced) -> Traced:
    return replace(traced, value=_worked_out(traced, [term.value for _sign, term in traced.terms]))


def worked_out(traced: Traced) -> Any:
    """What a tree comes to when it is worked out from its leaves, whatever it says of itself."""
    return _worked_out(traced, [worked_out(term) for _sign, term in traced.terms])


def _worked_out(traced: Traced, terms: list[Any]) -> Any:
    value: Any
    match traced.how:
        case "cells":
            value = sum((cell.counted for cell in traced.cells), Decimal(0))
        case "sum":
            signed = [sign * term for (sign, _), term in zip(traced.terms, terms, strict=True)]
            value = sum(_alike(signed), 0.0 if _has_rates(signed) else Decimal(0))
        case "product":
            value = prod(_alike(terms))
        case "quotient":
            return float(Decimal(terms[0]) / Decimal(terms[1])) if terms[1] > 0 else None
        case "least":
            value = min(terms)
        case "greatest":
            value = max(terms)
        case "people":
            return len(terms)
        case "median":
            value = float(median(terms)) if terms else None
        case "picked":
            return traced.cells[0].value
        case "stated":
            return traced.value
        case _:
            return limit(traced.how == "lower limit", int(terms[0]), int(terms[1]))
    return value.quantize(CENT, ROUND_HALF_UP) if traced.unit == "money" else value


def _has_rates(terms: list[Any]) -> bool:
    """Whether one of the terms is a fraction, which is no money."""
    return any(isinstance(term, float) for term in terms)


def _alike(terms: list[Any]) -> list[Any]:
    """The terms as they are, or all as fractions where one is."""
    return [float(term) for term in terms] if _has_rates(terms) else terms


def limit(is_lower: bool, part: int, whole: int) -> float | None:
    """One end of Wilson's score interval at 95 %; None where there is nobody."""
    if whole <= 0:
        return None
    spread = Z * sqrt(part * (whole - part) / whole + Z * Z / 4)
    end = (part + Z * Z / 2 + (-spread if is_lower else spread)) / (whole + Z * Z)
    return min(1.0, max(0.0, end))
