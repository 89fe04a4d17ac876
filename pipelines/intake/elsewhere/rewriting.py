"""One cell of a file from elsewhere → the same value as the contract writes it, or why a mapping cannot read it.

Comes in: a column's cells and how a mapping says they are read. Goes out: cells to be judged, each distinct one
rewritten once, and what was refused, by row.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import NamedTuple, Self

import pyarrow as pa

from pipelines.definitions.columns import Column, fold
from pipelines.definitions.records import CellFault
from pipelines.definitions.season import Season
from pipelines.intake.elsewhere.mapping import Feed, Mapping
from pipelines.intake.elsewhere.ways_of_writing import Order, Sign, day_in, number_in
from pipelines.intake.judging.judge import judge_packages, text_of
from pipelines.intake.judging.tables import Cells, is_empty

NUMBERS = ("packages", "packages_back", "count", "money", "money_noted", "money_signed", "rate")
PLACES = {"money": 2, "money_noted": 2, "money_signed": 2, "rate": 4}  # decimals at most; packages have none
DAYS = ("date", "week_ending")
ITEMS = ("item", "stocked_item")
MOST_PARTED = 2000  # characters of a cell that is to be parted
TELL = "Say what it means: `musterbook map`, or on Submissions."
SHOWN: dict[Order, str] = {
    "day-first": "a date with the day first, such as 14/02/2027",
    "month-first": "a date with the month first, such as 02/14/2027",
    "year-first": "a date with the year first, such as 27/02/14",
    "serial": "a date as a spreadsheet counts it, such as 46432",
    "serial-1904": "a date as a spreadsheet counts it from 1904, such as 44970",
}
MEND_DATE = "Type it so, or as 2027-02-14; or change how the mapping reads dates."
SIGN_SHOWN: dict[Sign, str] = {"point": "1,234.50", "comma": "1.234,50"}
MEND_SIGN = "Type it so; or change the mapping's decimal sign."
SWAPPED = (
    "either dates or texts in one column",
    "The program that saved this file may have swapped day and month in the cells it took for dates: export it again "
    "with all dates as text, or type this one as 2027-02-14.",
)


class Refusal(NamedTuple):
    """Why a cell cannot be read: what was expected, how to mend it."""

    expected: str
    how: str


@dataclass(frozen=True)
class Rewriting:
    """How the cells of one column are rewritten."""

    column: Column
    feed: Feed
    order: Order | None = None
    sign: Sign | None = None
    meanings: dict[str, str] = field(default_factory=dict)
    known: frozenset[str] | None = None  # folded: what a word may be; None: anything
    is_mixed: bool = False
    places: int = 0  # decimals at most

    @classmethod
    def of(cls, column: Column, feed: Feed, one: Mapping, season: Season, cells: Cells) -> Self:
        """What a mapping says of a column."""
        order = feed.dates or one.dates if column.kind in DAYS else None
        known = None
        if column.choices:
            known = frozenset(fold(choice) for choice in column.choices)
        elif column.kind in ITEMS:
            known = frozenset(code.casefold() for code in season.codes)
        return cls(
            column,
            feed,
            order,
            feed.decimals or one.decimals if column.kind in NUMBERS else None,
            {text.strip().casefold(): meaning for text, meaning in one.values.get(column.name, {}).items()},
            known,
            order in ("day-first", "month-first") and _has_numbered_days(cells),
            places_of(column, one),
        )

    def __call__(self, cell: object) -> object:
        """The cell as the contract writes it, None where it is empty, or a Refusal."""
        if is_empty(cell) or isinstance(cell, CellFault):
            return cell
        if self.feed.split or self.feed.form:
            cell = parted(cell, self.feed)
            if isinstance(cell, Refusal) or is_empty(cell):
                return cell
        if self.meanings:
            meaning = self.meanings.get(text_of(cell).casefold())
            if meaning is not None:
                return meaning or None
        if self.column.kind in DAYS:
            return self._day(cell)
        if self.column.kind in NUMBERS:
            return self._number(cell) if isinstance(cell, str) else cell
        return self.on_word(cell)

    def _day(self, cell: object) -> object:
        if isinstance(cell, date):
            is_sure = not self.is_mixed or cell.day > 12 or cell.day == cell.month
            return cell if is_sure else Refusal(*SWAPPED)
        if isinstance(cell, bool):
            return cell
        day = day_in(text_of(cell), self.order)
        if day:
            return day.isoformat()
        return Refusal(SHOWN[self.order], MEND_DATE) if self.order else cell

    def _number(self, cell: str) -> object:
        if self.sign:
            number = number_in(cell, self.sign)
            if number is None:
                return Refusal(f"a number such as {SIGN_SHOWN[self.sign]}", MEND_SIGN)
            return number
        point, comma = number_in(cell, "point"), number_in(cell, "comma")
        both = [Decimal(one) for one in (point, comma) if one is not None]
        if len(set(both)) == 2:
            return Refusal(
                f"a number that can be read in one way only; this one may be {both[0]:f} or {both[1]:f}",
                "Say which sign divides decimals: `musterbook map --decimals`, or on Submissions.",
            )
        return cell

    def on_word(self, cell: object) -> object:
        """A word as it is; a Refusal where the contract does not know it."""
        if self.known is None:
            return cell
        text = text_of(cell)
        if (fold(text) if self.column.choices else text.casefold()) in self.known:
            return cell
        what = f"one of {', '.join(self.column.choices)}" if self.column.choices else "an item's code of this season"
        return Refusal(f"{what}, or a word whose meaning is told", TELL)


def places_of(column: Column, one: Mapping) -> int:
    """Decimals that a column's numbers have at most: packages none, but cases may be parted."""
    return 3 if one.by_case and column.name == "packages" else PLACES.get(column.kind, 0)


def _has_numbered_days(cells: Cells) -> bool:
    """Whether a column holds date cells, and beside them texts whose order of day and month matters."""
    if isinstance(cells, pa.Array):
        return False  # a column of one type
    found: set[bool] = set()
    for cell in cells:
        if isinstance(cell, date):
            found.add(True)
        elif isinstance(cell, str) and not is_empty(cell) and not day_in(cell, None):
            found.add(False)
        if len(found) == 2:
            return True
    return False


def parted(cell: object, feed: Feed) -> object:
    """The part of a cell's text that counts, or a Refusal."""
    text = text_of(cell)
    if len(text) > MOST_PARTED:
        return Refusal(f"at most {MOST_PARTED:,} characters", "Shorten the text.")
    if feed.form:
        found = feed.part_in(text)
        return found.strip() if found is not None else Refusal(f"a text such as {feed.form}", TELL)
    separator = feed.split or " "
    parts = text.split() if not separator.strip() else [part.strip() for part in text.split(separator.strip())]
    place = feed.part - 1 if feed.part > 0 else feed.part
    if not -len(parts) <= place < len(parts):
        return Refusal(f'at least {abs(feed.part)} parts, divided by "{separator}"', TELL)
    return parts[place]


def rewritten(cells: Cells, work: Callable[[object], object]) -> tuple[Cells, dict[int, tuple[str, str]]]:
    """The cells rewritten, each distinct one once, refused ones empty; and the refusals by row."""
    distinct, indices = distinct_of(cells)
    done = [work(cell) for cell in distinct]
    if all(new is old for new, old in zip(done, distinct, strict=True)):
        return cells, {}
    plain = [None if isinstance(one, Refusal) else one for one in done]
    refused: dict[int, tuple[str, str]] = {}
    if any(isinstance(one, Refusal) for one in done):
        refused = {row: tuple(done[k]) for row, k in enumerate(indices) if isinstance(done[k], Refusal)}  # type: ignore[arg-type,misc]
    if isinstance(cells, pa.Array) and all(one is None or isinstance(one, str) for one in plain):
        return pa.array(plain, pa.string()).take(pa.array(indices, pa.int32())), refused
    return [plain[k] for k in indices], refused


def distinct_of(cells: Cells) -> tuple[list[object], list[int]]:
    """The distinct cells (1, 1.0 and True are three) and, for each cell, the place of its own among them."""
    if isinstance(cells, pa.Array):
        coded = cells.dictionary_encode(null_encoding="encode")
        return coded.dictionary.to_pylist(), coded.indices.to_pylist()
    places: dict[object, int] = {}
    distinct: list[object] = []
    indices = []
    for cell in cells:
        key = cell if type(cell) is str or cell is None else (type(cell), cell)
        place = places.setdefault(key, len(distinct))
        if place == len(distinct):
            distinct.append(cell)
        indices.append(place)
    return distinct, indices


_PLAIN_NUMBER = re.compile(r"[+-]?\d{1,9}(\.\d{1,9})?")


def _each(cells: Cells) -> Iterable[object]:
    each: Iterable[object] = cells.to_pylist() if isinstance(cells, pa.Array) else cells
    return each


def _pairs(items: Cells, packages: Cells) -> Iterator[tuple[str, object]]:
    for item, cell in zip(_each(items), _each(packages), strict=True):
        yield text_of(item).casefold(), cell


def in_cases(items: Cells, packages: Cells, season: Season) -> tuple[list[object], dict[int, tuple[str, str]]]:
    """Cases → packages, by what a case of each row's item holds; refused where that makes no whole packages."""
    holds = {code.casefold(): item.packages_per_case for code, item in season.codes.items()}
    done: list[object] = []
    refused: dict[int, tuple[str, str]] = {}
    for row, (item, cell) in enumerate(_pairs(items, packages)):
        number = None
        if isinstance(cell, int | float | Decimal) and not isinstance(cell, bool):
            number = Decimal(repr(cell) if isinstance(cell, float) else cell)
        elif isinstance(cell, str) and _PLAIN_NUMBER.fullmatch(cell.strip()):
            number = Decimal(cell.strip())
        if number is None or not number.is_finite() or item not in holds:
            done.append(cell)  # judged as it is: no number, or no item of the season
            continue
        whole = number * holds[item]
        if whole != whole.to_integral_value():
            refused[row] = (f"cases that make whole packages, {holds[item]} to a case", "Type the cases of this row.")
            done.append(None)
        else:
            done.append(int(whole))
    return done, refused


def times_price(items: Cells, packages: Cells, season: Season) -> list[object]:
    """Packages times the item's price; 0.00 where either cannot be told, which is found on its own cell."""
    prices = {code.casefold(): item.price for code, item in season.codes.items()}
    amounts: list[object] = []
    for item, cell in _pairs(items, packages):
        count = 0 if is_empty(cell) else judge_packages(cell)
        amounts.append(str(prices.get(item, Decimal(0)) * count) if isinstance(count, int) else "0.00")
    return amounts
