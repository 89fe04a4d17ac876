"""Which rows of a sheet a mapping reads: where its part of the sheet ends, and which rows in it are no rows.

Comes in: a sheet, its header, a mapping. Goes out: the part that is read, rows that are passed over, and what is told.
What would be lost by it is told, and held where it is more than one row.
"""

from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Dict

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.definitions.records import Finding, Sheet
from pipelines.intake.elsewhere.headers import Head, folded, part_of
from pipelines.intake.elsewhere.mapping import Mapping
from pipelines.intake.judging.codes import begins_as_total
from pipelines.intake.judging.judge import text_of
from pipelines.intake.judging.tables import Cells, any_filled, body_of, is_empty

UNREAD = "filled rows that nothing reads"
NAMED = 8  # rows that a sentence names


def part_read(sheet: Sheet, head: Head, until: str | None) -> tuple[Sheet, list[Finding]]:
    """The sheet as far as a mapping reads it, and a finding where its end is not there."""
    if until in (None, "end"):
        return sheet, []
    firsts = first_filled(body_of(sheet, head.row + 1)[0])
    text = until.removeprefix("before ") if until and until != "blank" else None
    end = next((k for k, cell in enumerate(firsts) if k and _ends(cell, text)), None)
    if end is not None:
        return part_of(sheet, head.row + 1 + end), []
    if text is None:
        return sheet, []
    how = "Point at its first and last row once more on Submissions."
    return sheet, [Finding(sheet.name, f"A{head.row + 1}", "a table without its end", f"a row {text} below it", how)]


def _ends(cell: object, text: str | None) -> bool:
    return cell is None if text is None else not is_empty(cell) and folded(text_of(cell)) == folded(text)


def how_it_ends(sheet: Sheet, head: Head, last: int) -> str:
    """How a table whose last row (from 1 on) was pointed at ends, in a way that next week's file can share."""
    firsts = first_filled(body_of(sheet, head.row + 1)[0])
    rest = firsts[last - head.row - 1 :]
    if not any(cell is not None for cell in rest):
        return "end"
    return "blank" if rest[0] is None else f"before {text_of(rest[0])}"


def unread(sheet: Sheet, parts: Sequence[tuple[Head, Sheet]]) -> Iterator[Finding]:
    """Filled rows below the first of several headers that no part of the sheet reads."""
    if not parts:
        return
    first = min(head.row for head, _part in parts)
    cells, row_nos = body_of(sheet, first + 1)
    read = {row for head, part in parts for row in range(head.row - head.lines + 1, _length(part))}
    counts = [sum(not is_empty(_plain(cell)) for cell in row) for row in zip(*cells, strict=True)]
    rows = [k for k, filled in enumerate(counts) if filled > 1 and first + 1 + k not in read]
    if rows:
        how = "Say on Submissions which table they are: point at its first and last row."
        named = _named([row_nos[k] for k in rows])
        yield Finding(sheet.name, f"A{row_nos[rows[0]]}", f"{UNREAD}: {named}", "tables", how)


def _length(sheet: Sheet) -> int:
    return len(sheet.rows) if sheet.rows is not None else sheet.table.num_rows if sheet.table is not None else 0


def _plain(cell: object) -> object:
    return cell.as_py() if isinstance(cell, pa.Scalar) else cell


def rows_passed(
    name: str, one: Mapping, sheet: Sheet, head: Head, places: Dict[str, int]
) -> tuple[list[int], list[Finding]]:
    """The rows of the body that a mapping passes over, and what is told; `places`: where its columns stand."""
    if not one.pass_over and not one.pass_over_rows:
        return [], []
    cells, row_nos = body_of(sheet, head.row + 1)
    firsts = first_filled(cells)
    by_text = [k for k, cell in enumerate(firsts) if is_passed(cell, one.pass_over)]
    like_rows = set(_like_rows(one, cells, places))
    by_place = [k for k in _by_place(one.pass_over_rows, firsts) if k not in like_rows]
    lost = [k for k in by_text if k in like_rows and not begins_as_total(text_of(firsts[k]))]
    rows = sorted({*by_text, *by_place})
    if not rows:
        return [], []
    where = f"A{row_nos[rows[0]]}"
    if len(lost) > 1:
        found = f"rows that look like any other: {_named([row_nos[k] for k in lost])}"
        texts = ", ".join(dict.fromkeys(text_of(firsts[k]) for k in lost))
        how = f"{name} passes over rows that begin with {texts}. Let them count, or take them out of the file."
        return rows, [Finding(sheet.name, f"A{row_nos[lost[0]]}", found, "at most one row to pass over", how)]
    said = "; ".join(dict.fromkeys(text_of(firsts[k]) for k in rows[:NAMED]))
    numbers = _named([row_nos[k] for k in rows])
    found = (
        f"{len(rows):,} rows passed over: {numbers} ({said})"
        if len(rows) > 1
        else f"row {numbers} passed over ({said})"
    )
    how = f"Passed over, as {name} says; nothing in it was counted."
    return rows, [Finding(sheet.name, where, found, "rows that count", how, is_note=True)]


def _named(numbers: Sequence[object]) -> str:
    more = f" and {len(numbers) - NAMED:,} more" if len(numbers) > NAMED else ""
    return ", ".join(str(number) for number in numbers[:NAMED]) + more


def _by_place(places: Sequence[int], firsts: Sequence[object]) -> list[int]:
    filled = [k for k, cell in enumerate(firsts) if cell is not None]
    return [filled[at - 1 if at > 0 else at] for at in places if at and -len(filled) <= at <= len(filled)]


def _like_rows(one: Mapping, cells: Sequence[Cells], places: Dict[str, int]) -> list[int]:
    """The rows in which every column that must be there is filled in."""
    needed = [
        cells[places[c.name]] for c in one.of.columns if c.required and places.get(c.name, len(cells)) < len(cells)
    ]
    size = len(cells[0]) if cells else 0
    of_items = [cells[at] for name, at in places.items() if name.startswith("packages of ") and at < len(cells)]
    fills = [any_filled([column], size) for column in needed] + ([any_filled(of_items, size)] if of_items else [])
    return [k for k in range(size) if all(fill[k] for fill in fills)]


def is_passed(cell: object, texts: Sequence[str]) -> bool:
    """Whether a row whose first filled cell this is is passed over: `Total`; of older mappings also `Printed*`."""
    if not isinstance(cell, str):
        return False
    text = folded(cell.strip())
    return any(
        text.startswith(folded(one[:-1])) if one.endswith("*") and one != "*" else text == folded(one) for one in texts
    )


def first_filled(cells: Sequence[Cells]) -> list[object]:
    """Row by row the first cell that holds something."""
    found: list[object] = []
    if cells and isinstance(cells[0], pa.Array):
        texts = []
        for column in cells:
            text = (
                column.cast(pa.string()) if not pa.types.is_nested(column.type) else pa.nulls(len(column), pa.string())
            )
            text = pc.utf8_trim_whitespace(text)
            texts.append(pc.if_else(pc.equal(text, ""), pa.scalar(None, pa.string()), text))
        return list(pc.coalesce(*texts).to_pylist())
    for row in zip(*cells, strict=True):
        found.append(next((cell for cell in row if not is_empty(cell)), None))
    return found
