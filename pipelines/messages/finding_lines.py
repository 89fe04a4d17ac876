"""Findings as a volunteer is told them: the same fault in many cells is one line, with what to type instead.

Comes in: findings, cell by cell. Goes out: Lines, and Questions beside them. The screens, the terminal, the text to
send back and the marked-up copy all say findings through here.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from pipelines.definitions.records import Finding
from pipelines.intake.files.wire import column_letters
from pipelines.messages.suggestions import meant

CELL = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
MOST_SPANS = 6  # stretches of cells that one line names
MOST_VALUES = 3  # different values that one line quotes


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to mend or to know. `where`: "Stock, E4 to E15", "" for the file as a whole; `cells`: each of them."""

    where: str
    found: str
    expected: str  # "" where a note only says how something was understood
    how: str  # what to do, and what to type instead where that can be told
    is_note: bool
    sheet: str
    cells: tuple[str, ...]

    def sentence(self) -> str:
        """All of it but where, in one line of plain text."""
        expected = f"; expected {self.expected}" if self.expected else ""
        return f"found {self.found}{expected}. {self.how}".strip()

    def told(self) -> str:
        """Where and what, in one line of plain text."""
        return f"{self.where}: {self.sentence()}" if self.where else self.sentence()


@dataclass(frozen=True, slots=True)
class Question:
    """A likely slip that is asked about: what is asked, and the cells it rests on, each as (sheet, cell)."""

    asked: str
    places: tuple[tuple[str, str], ...] = ()

    @property
    def where(self) -> str:
        """The cells as a person names them: `Families, B4 to B9; Stock, D3`."""
        by_sheet: dict[str, list[str]] = {}
        for sheet, cell in self.places:
            by_sheet.setdefault(sheet, []).append(cell)
        return "; ".join(", ".join(p for p in (sheet, span(cells)) if p) for sheet, cells in by_sheet.items())


def lines(findings: Iterable[Finding]) -> list[Line]:
    """The findings grouped: what is to mend first, sheet by sheet, each kind of fault once, in the order found."""
    findings = list(findings)
    sheets = {sheet: at for at, sheet in enumerate(dict.fromkeys(one.sheet for one in findings))}
    grouped: dict[tuple[object, ...], list[Finding]] = {}
    for one in sorted(findings, key=lambda one: (one.is_note, sheets[one.sheet])):
        is_reading = one.is_note and one.found == one.expected  # a value that was understood in a way worth telling
        said = "" if is_reading else one.expected
        own = "" if CELL.fullmatch(one.cell) else (one.found, one.cell)
        grouped.setdefault((one.is_note, one.sheet, said, one.how, own), []).append(one)
    return [_line(group, str(key[2])) for key, group in grouped.items()]


def _line(group: Sequence[Finding], expected: str) -> Line:
    first = group[0]
    cells = tuple(dict.fromkeys(one.cell for one in group if one.cell))
    where = ", ".join(part for part in (first.sheet, span(cells)) if part)
    values = list(dict.fromkeys(one.found for one in group))
    return Line(where, _quoted(values), expected, _what_to_do(first, values), first.is_note, first.sheet, cells)


def _quoted(values: Sequence[str]) -> str:
    if len(values) <= MOST_VALUES:
        return " and ".join(part for part in (", ".join(values[:-1]), values[-1]) if part)
    return f"{', '.join(values[:MOST_VALUES])} and {len(values) - MOST_VALUES:,} others"


def _what_to_do(first: Finding, values: Sequence[str]) -> str:
    if first.is_note:
        return first.how
    instead = [said for value in values[:MOST_VALUES] if (said := meant(value, first.expected, first.how))]
    return " ".join([first.how, *instead])


def span(cells: Sequence[str]) -> str:
    """Cells as a person names them: E4 to E15; B3, D7 and D9 to D12."""
    marked = {cell: found for cell in cells if (found := CELL.fullmatch(cell))}
    by_column: dict[int, list[int]] = {}
    for found in marked.values():
        by_column.setdefault(column_number(found[1]), []).append(int(found[2]))
    blocks: list[tuple[int, int, int, int]] = []  # first column, last column, first row, last row
    ends: dict[tuple[int, int, int], int] = {}  # last column, first row, last row → which block ends so
    for column in sorted(by_column):
        for top, bottom in _runs(sorted(by_column[column])):
            beside = ends.pop((column - 1, top, bottom), None)
            if beside is None:
                beside = len(blocks)
                blocks.append((column, column, top, bottom))
            else:
                blocks[beside] = (blocks[beside][0], column, top, bottom)
            ends[column, top, bottom] = beside
    named = [_named(block) for block in blocks] + [cell for cell in cells if cell not in marked]
    if len(named) > MOST_SPANS:
        rest = len(cells) - sum((b[1] - b[0] + 1) * (b[3] - b[2] + 1) for b in blocks[:MOST_SPANS])
        return f"{', '.join(named[:MOST_SPANS])} and {rest:,} more cells"
    return " and ".join(part for part in (", ".join(named[:-1]), *named[-1:]) if part)


def _runs(numbers: list[int]) -> Iterable[tuple[int, int]]:
    """Stretches of numbers that follow each other, as first and last."""
    for _, run in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        members = [number for _, number in run]
        yield members[0], members[-1]


def _named(block: tuple[int, int, int, int]) -> str:
    left, right, top, bottom = block
    first, last = f"{column_letters(left)}{top}", f"{column_letters(right)}{bottom}"
    return first if first == last else f"{first} to {last}"


def column_number(letters: str) -> int:
    """A column's place, counted from 0: A is 0, AA is 26."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1


def count_said(listed: Sequence[Line]) -> str:
    """How much there is: `3 things to mend in 14 cells, 1 to know`."""
    mend = [line for line in listed if not line.is_note]
    cells = sum(max(1, len(line.cells)) for line in mend)
    things = "1 thing to mend" if len(mend) == 1 else f"{len(mend):,} things to mend"
    parts = [f"{things} in {cells:,} cells" if cells > len(mend) else things] if mend else []
    know = len(listed) - len(mend)
    return ", ".join([*parts, *([f"{know:,} to know"] if know else [])]) or "nothing to mend"
