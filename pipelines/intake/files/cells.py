"""Cells as every workbook reader leaves them, whatever library they came from.

Comes in: values as a library gives them. Goes out: rows of plain cells (records.type_of_cell) that end at the last
filled one, days as dates, no empty text.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta

from pipelines.definitions.limits import MOST_LAID_OUT
from pipelines.intake.files.wire import Cells, Unreadable, column_letters, unreadable

SIMPLE = frozenset({float, str, bool, int})
# Before this day the calendar of serial numbers has a day that never was (29 February 1900), and libraries disagree
# (measured: serials 59 and 60 are both 28 February in openpyxl and in calamine), so such a day is told, not guessed.
FIRST_SURE_DAY = date(1900, 3, 1)
ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")


class Uncertain(Exception):
    """A value of which the fast reader cannot be sure."""


def plain(value: object) -> object:
    """A library's day, time or span as a date, datetime, time or (a span of a day and more) number of days."""
    if isinstance(value, datetime):
        if value.date() < FIRST_SURE_DAY:
            raise Uncertain(value.date().isoformat())
        return value.date() if value.time() == time.min else value
    if isinstance(value, date):
        if value < FIRST_SURE_DAY:
            raise Uncertain(value.isoformat())
        return value
    if isinstance(value, timedelta):
        return span(value)
    return value


def span(value: timedelta) -> time | float:
    """A span of hours: a time of day where it is one, else the number of days that the cell stores."""
    if not timedelta(0) <= value < timedelta(days=1):
        return value / timedelta(days=1)
    minutes, seconds = divmod(value.seconds, 60)
    return time(minutes // 60, minutes % 60, seconds, value.microseconds)


def tidy(rows: Iterable[Sequence[object]]) -> list[list[object]]:
    """Rows without empty text, nor empty cells and rows at their ends; raises Uncertain."""
    tidied = []
    for row in rows:
        line = [None if c == "" else c if c.__class__ in SIMPLE else plain(c) for c in row]
        while line and line[-1] is None:
            line.pop()
        tidied.append(line)
    while tidied and not tidied[-1]:
        tidied.pop()
    return tidied


class Sparse:
    """A sheet filled cell by cell, in any order, whose far corners cost nothing until it is laid out."""

    def __init__(self, name: str, *, is_hidden: bool = False) -> None:
        self.name, self.is_hidden = name, is_hidden
        self._rows: dict[int, dict[int, object]] = {}
        self._faults: list[tuple[int, int, str, str]] = []

    def put(self, row: int, column: int, value: object) -> None:
        """A value at a place counted from 0; nothing where it is empty."""
        if value is not None and value != "":
            self._rows.setdefault(row, {})[column] = value

    def fault(self, row: int, column: int, shown: str, why: str) -> None:
        """A cell that stores no usable value."""
        self._faults.append((row, column, shown, why))
        self._rows.setdefault(row, {})[column] = None

    def laid_out(self) -> Cells:
        """The sheet's rows, each as long as its last filled cell is far; raises Unreadable where they are too many."""
        area = sum(max(cells) + 1 for cells in self._rows.values())
        if area > MOST_LAID_OUT:
            raise too_far_apart(self.name)
        rows: list[list[object]] = [[] for _ in range(max(self._rows, default=-1) + 1)]
        for row, cells in self._rows.items():
            rows[row] = [cells.get(column) for column in range(max(cells) + 1)]
        return Cells(self.name, rows, self._faults, self.is_hidden)


def too_far_apart(sheet: str) -> Unreadable:
    """What is told of a sheet whose filled cells would need millions of empty ones between them."""
    return unreadable(
        "filled cells that stand very far apart",
        "one table, starting near the sheet's first cell",
        "Delete what stands far below or to the right of the table, save, and send it again.",
        sheet=sheet,
    )


def place(row: int, column: int) -> str:
    """A cell as a spreadsheet names it, from its place counted from 0."""
    return f"{column_letters(column)}{row + 1}"


def unescaped(text: str) -> str:
    """Text in which `_x000D_` and its like are the characters they stand for (ECMA-376 part 1, 22.9.2.19)."""
    return ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text
