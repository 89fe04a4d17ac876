"""A sheet's header as labels that a mapping can name: two rows joined, doubles numbered, blanks by letter.

Comes in: a sheet. Goes out: for each row that may be its header a Head, and the key by which two headers are the same.

A mapping is found by the header's key: its labels, in any order where each is told apart. One header more, and the file
waits again.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from pipelines.definitions.columns import fold
from pipelines.definitions.records import Sheet
from pipelines.intake.files.wire import column_letters as letter
from pipelines.intake.judging.judge import text_of
from pipelines.intake.judging.tables import HEADER_WITHIN, is_empty

Key = tuple[str, ...]
LONGEST = 500  # characters of a label that are kept; two headers that differ only beyond are numbered


class Head(NamedTuple):
    """A header: the row of the sheet that its last line stands in (0 = the first; -1 outside the rows), its labels."""

    row: int
    lines: int
    labels: tuple[str, ...]

    @property
    def key(self) -> Key:
        return key(self.labels)


def heads(sheet: Sheet, lines: int, within: int = HEADER_WITHIN) -> Iterator[Head]:
    """What may be the sheet's header, of so many lines, from the top."""
    if sheet.rows is None and sheet.table is not None and sheet.has_names:
        if lines == 1:
            yield Head(-1, 1, labels_of(list(sheet.table.column_names)))
        return
    rows = top_rows(sheet, within)
    for number, row in enumerate(rows):
        if all(is_empty(cell) for cell in row):
            continue
        if lines == 1:
            yield Head(number, 1, labels_of(row))
        elif number + 1 < len(rows) and any(not is_empty(cell) for cell in rows[number + 1]):
            yield Head(number + 1, 2, labels_of(stacked(row, rows[number + 1])))


def top_rows(sheet: Sheet, within: int = HEADER_WITHIN) -> Sequence[Sequence[object]]:
    """The first rows of a sheet, in which a header is looked for, as they stand."""
    if sheet.rows is not None:
        return sheet.rows[:within]
    if sheet.table is None:
        return []
    return [list(row.values()) for row in sheet.table.slice(0, within).to_pylist()]


def head_at(sheet: Sheet, row: int, lines: int) -> Head | None:
    """The header of so many lines that ends in this row (0 = the first); None where there is none."""
    return next((head for head in heads(sheet, lines, row + 1) if head.row == row), None)


def part_of(sheet: Sheet, end: int) -> Sheet:
    """A sheet without what stands from row `end` (0 = the first) on."""
    if sheet.rows is not None:
        return replace(sheet, rows=sheet.rows[:end])
    numbers = None if sheet.row_numbers is None else sheet.row_numbers.slice(0, end)
    return replace(sheet, table=None if sheet.table is None else sheet.table.slice(0, end), row_numbers=numbers)


def stacked(upper: Sequence[object], lower: Sequence[object]) -> list[object]:
    """Two header lines as one: the upper one's words go on over the empty cells to their right, as if merged."""
    joined: list[object] = []
    over = ""
    for place in range(max(len(upper), len(lower))):
        above = upper[place] if place < len(upper) else None
        below = lower[place] if place < len(lower) else None
        if not is_empty(above):
            over = text_of(above)
        joined.append(over if is_empty(below) and not is_empty(above) else f"{over} {text_of(below)}".strip())
        if is_empty(below) and is_empty(above):
            joined[-1] = None
    return joined


def labels_of(cells: Sequence[object]) -> tuple[str, ...]:
    """The header's cells as labels, each once: `Qty`, `Qty (2)`; an empty one between others is `(column C)`."""
    texts = ["" if is_empty(cell) else " ".join(text_of(cell).split())[:LONGEST] for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    seen: Counter[str] = Counter()
    taken = {folded(text) for text in texts}
    labels = []
    for place, text in enumerate(texts):
        label = text or f"(column {letter(place)})"
        same = folded(label)
        seen[same] += 1
        if seen[same] > 1:
            while folded(f"{label} ({seen[same]})") in taken:
                seen[same] += 1
            label = f"{label} ({seen[same]})"
            taken.add(folded(label))
        labels.append(label)
    return tuple(labels)


def folded(label: str) -> str:
    """A label without case, spaces and punctuation; one of punctuation alone as it is."""
    return fold(label) or label.casefold()


def key(labels: Sequence[str]) -> Key:
    """What two headers have in common that are the same: their labels, in any order where each tells itself apart."""
    parts = [folded(label) for label in labels]
    is_told_by_place = len(set(parts)) < len(parts) or any(label.startswith("(column ") for label in labels)
    numbered = any(label.endswith(")") and label.rpartition(" (")[0] in labels for label in labels)
    return tuple(parts) if is_told_by_place or numbered else tuple(sorted(parts))
