"""Sheets of cells → the contract's tables, still unjudged: which table it is, where its header is, which cell is what.

Comes in: a file's sheets and the season. Goes out: Raw tables (columns of cells with their places) and findings.
"""

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.definitions.columns import Table, fold
from pipelines.definitions.contract import TABLES, WIDE_SHEETS
from pipelines.definitions.records import Finding, Sheet
from pipelines.definitions.submissions import SUBMISSION_TABLES
from pipelines.intake.files.wire import column_letters as letter
from pipelines.intake.judging import decimal_signs
from pipelines.intake.judging.judge import shown

Cells = Any  # a list of cells, or an Arrow array
LONE_CELL = re.compile(r"([A-Z]+)([0-9]+)")
HEADER_WITHIN = 20  # rows in which a header is looked for


class Place(NamedTuple):
    """Where a column of a table stands in a file; `item` of a column that holds one item, `row_no` of a lone cell."""

    file_no: int
    sheet: str
    column: str
    letters: str
    item: str | None = None
    row_no: int | None = None


@dataclass
class Raw:
    """Cells of one contract table, by column, with the place of each; rows of many workbooks may stand in one Raw."""

    table: Table
    file_nos: list[int] | int
    sheets: list[str] | str
    row_nos: Sequence[int] | pa.Array
    columns: dict[str, Cells]
    letters: dict[str, dict[int, int] | list[int] | int] = field(default_factory=dict)
    fixed: dict[tuple[int, str], str] = field(default_factory=dict)
    row_faults: dict[int, list[Finding]] = field(default_factory=dict)
    placeholders: list[int] = field(default_factory=list)
    # What a mapping adds: the cells as they stood, those it cannot read (row → expected, how to mend), what is said in
    # place of a cell where a column stands in none, the columns of which each item has its own in the file.
    as_found: dict[str, Cells] = field(default_factory=dict)
    refused: dict[str, dict[int, tuple[str, str]]] = field(default_factory=dict)
    instead: dict[str, str] = field(default_factory=dict)
    by_item: frozenset[str] = frozenset({"packages"})
    is_mapped: bool = False
    others: dict[str, Cells] = field(default_factory=dict)  # columns that the contract does not know, by header

    def __len__(self) -> int:
        return len(self.row_nos)

    def file_no(self, row: int) -> int:
        return self.file_nos if isinstance(self.file_nos, int) else self.file_nos[row]

    def sheet(self, row: int) -> str:
        return self.sheets if isinstance(self.sheets, str) else self.sheets[row]

    def cell(self, row: int, column: str) -> str:
        """The cell's name as a spreadsheet gives it."""
        if (row, column) in self.fixed:
            return self.fixed[row, column]
        if column in self.instead:
            return self.instead[column]
        place = self.letters.get(column)
        if isinstance(place, dict):
            place = place.get(self.file_no(row))
        elif isinstance(place, list):
            place = place[row]
        number = self.row_nos[row]
        return f"{letter(place) if place is not None and place >= 0 else ''}{number}"

    def places(self) -> list[Place]:
        """Where its columns stand, one for each file, sheet and column, of a workbook's packages for each item."""
        rows = range(len(self)) if isinstance(self.file_nos, list) else range(min(1, len(self)))
        sheets = {(self.file_no(row), self.sheet(row)) for row in rows}
        found: set[Place] = set()
        for column, place in self.letters.items():
            if isinstance(place, list):
                found |= self._places_by_row(column, place)
                continue
            for file_no, sheet in sheets:
                at = place.get(file_no) if isinstance(place, dict) else place
                if at is not None:
                    found.add(Place(file_no, sheet, column, letter(at)))
        for (row, column), cell in self.fixed.items():
            letters = cell.rstrip("0123456789")
            if letters:
                row_no = int(cell.removeprefix(letters))
                found.add(Place(self.file_no(row), self.sheet(row), column, letters, row_no=row_no))
        for column, cell in self.instead.items():
            if lone := LONE_CELL.fullmatch(cell):
                found |= {Place(no, sheet, column, lone[1], row_no=int(lone[2])) for no, sheet in sheets}
        return sorted(found, key=str)

    def _places_by_row(self, column: str, places: list[int]) -> set[Place]:
        """The places of a column whose cells stand now in one column of the sheet, now in another."""
        if column not in self.by_item:
            where = {(self.file_no(row), self.sheet(row), at) for row, at in enumerate(places) if at >= 0}
            return {Place(no, sheet, column, letter(at)) for no, sheet, at in where}
        items = self.columns["item"]
        items = items.to_pylist() if isinstance(items, pa.Array) else items
        each = {(self.file_no(row), self.sheet(row), items[row], at) for row, at in enumerate(places)}
        return {
            Place(no, sheet, column, letter(at), item) for no, sheet, item, at in each if item is not None and at >= 0
        }

    def found_column(self, column: str) -> Cells:
        """A column's cells as they stand; None where there is none."""
        return self.as_found.get(column, self.columns.get(column))

    def other(self, row: int, header: str) -> object:
        """The cell of a column that the contract does not know."""
        cell = self.others[header][row]
        return cell.as_py() if isinstance(cell, pa.Scalar) else cell

    def found(self, row: int, column: str) -> object:
        """The cell as it stands."""
        cells = self.found_column(column)
        cell = None if cells is None else cells[row]
        return cell.as_py() if isinstance(cell, pa.Scalar) else cell


def is_empty(cell: object) -> bool:
    """Whether a cell holds nothing, or only spaces."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def as_wide(header: list[object], rows: list[list[object]]) -> list[object]:
    """A header as wide as the widest row: what stands beyond it has a header that is empty."""
    return [*header, *[None] * (max(map(len, rows)) - len(header))]


def is_submission(sheets: Iterable[Sheet]) -> bool:
    """Whether a file is a troop's workbook: a cover of labels, or a sheet of its names without a troop column."""
    names = {table.name for table in SUBMISSION_TABLES}
    own = [sheet for sheet in sheets if fold(sheet.name) in names and sheet.rows is not None]
    others = [
        sheet for sheet in own if fold(sheet.name) != "cover"
    ]  # a cover whose labels stand across looks like bulk
    return any(fold(sheet.name) == "cover" and recognised(sheet) is None for sheet in own) or (
        len(own) > 1 and all(recognised(sheet) is None for sheet in others)
    )


@dataclass
class Headed:
    """A sheet whose header was found: the table it is, the row the header stands in, the place of each column."""

    table: Table
    header_row: int  # 0 = the sheet's first; -1 = names outside the rows
    places: dict[str, int]
    extras: dict[int, str]  # place → header, of columns that the table does not know


def body_of(sheet: Sheet, start: int) -> tuple[list[list[object] | pa.Array], list[int] | pa.Array]:
    """The cells below a header, column by column, and the number of each row."""
    if sheet.rows is not None:
        rows = sheet.rows[start:]
        width = max(map(len, sheet.rows))
        columns: list[list[object] | pa.Array] = []
        for place in range(width):
            columns.append([row[place] if place < len(row) else None for row in rows])
        return columns, list(range(start + 1, start + 1 + len(rows)))
    assert sheet.table is not None  # noqa: S101 - a sheet has rows or a table
    body = sheet.table.slice(start).combine_chunks()
    arrays = [one.chunk(0) if one.num_chunks else pa.array([], one.type) for one in body.columns]
    numbers = sheet.row_numbers
    return arrays, numbers.slice(start) if numbers is not None else pa.array(range(start + 1, start + 1 + len(body)))


def _headers(sheet: Sheet) -> list[tuple[int, list[object]]]:
    if sheet.rows is not None:
        top = [(k, row) for k, row in enumerate(sheet.rows[:HEADER_WITHIN]) if any(not is_empty(c) for c in row)]
        return [(k, as_wide(row, sheet.rows)) for k, row in top]
    if sheet.table is None:
        return []
    if sheet.has_names:
        return [(-1, list(sheet.table.column_names))]
    top = sheet.table.slice(0, HEADER_WITHIN).to_pylist()
    rows = [(k, list(row.values())) for k, row in enumerate(top)]
    return [(k, row) for k, row in rows if any(not is_empty(c) for c in row)]


def placed(table: Table, header: list[object]) -> tuple[dict[str, int], dict[int, str]]:
    wanted = table.folded
    places: dict[str, int] = {}
    extras: dict[int, str] = {}
    for place, cell in enumerate(header):
        name = wanted.get(fold(cell)) if not is_empty(cell) else None
        if name and name not in places:
            places[name] = place
        else:
            extras[place] = "" if is_empty(cell) else str(cell)
    return places, extras


def recognised(sheet: Sheet, file_name: str = "") -> Headed | None:
    """The feed or bulk table that a sheet's headers tell, or None; where two fit alike, the one it is named for."""
    named = fold(sheet.name or file_name)
    best: tuple[tuple[int, bool], Headed] | None = None
    for row, header in _headers(sheet):
        folded = {fold(cell) for cell in header if not is_empty(cell)}
        for table in TABLES.values():
            if table.folded_required <= folded and not table.folded_own.isdisjoint(folded):
                places, extras = placed(table, header)
                known = 2 * len(places) - sum(1 for extra in extras.values() if extra)
                weight = (known, fold(table.name) in named)
                if best is None or weight > best[0]:
                    best = (weight, Headed(table, row, places, extras))
        if best:
            break
    return best[1] if best else None


def told_above(sheet: Sheet, header_row: int, titles: Collection[str] = ()) -> list[Finding]:
    """A note where what stands above the header looks like rows of the table: it was passed over like a title.

    `titles`: what our own form writes there above the items' codes.
    """
    rows = [(k, [cell for cell in row if not is_empty(cell)]) for k, row in _headers(sheet) if k <= header_row]
    rows = [(k, cells) for k, cells in rows if k == header_row or not all(cell in titles for cell in cells)]
    if not rows or rows[-1][0] != header_row:
        return []
    columns = len(rows[-1][1])
    above = [k for k, cells in rows[:-1] if len(cells) >= max(2, columns / 2)]
    if not above:
        return []
    numbers = sheet.row_numbers
    first = above[0] + 1 if numbers is None else numbers[above[0]].as_py()
    found = f"{len(above)} filled rows above the header" if len(above) > 1 else "a filled row above the header"
    how = "What stands above the header was passed over; nothing in it was counted."
    return [Finding(sheet.name, f"A{first}", found, "rows below their header", how, is_note=True)]


def take_table(
    file_no: int, sheet: Sheet, headed: Headed, passed: frozenset[int] = frozenset()
) -> tuple[Raw, list[Finding]]:
    """A feed or a bulk table as a Raw, and what is to be told of its columns; `passed`: rows of the body left out."""
    table, start = headed.table, headed.header_row + 1
    cells, row_nos = body_of(sheet, start)
    columns: dict[str, Cells] = {name: cells[place] for name, place in headed.places.items()}
    extras: dict[int, Cells] = {place: cells[place] for place in headed.extras if place < len(cells)}
    if sheet.rows is not None:
        filled = [any(not is_empty(c) for c in row) for row in sheet.rows[start:]]
    else:
        filled = any_filled(columns.values(), len(row_nos))
    if passed:
        filled = [is_filled and k not in passed for k, is_filled in enumerate(filled)]
    raw = Raw(table, file_no, sheet.name, row_nos, columns, dict(headed.places))
    if not all(filled):
        raw = _without_blank_rows(raw, filled)
        keep = [k for k, is_filled in enumerate(filled) if is_filled]
        extras = {place: picked(cells, keep) for place, cells in extras.items()}
    raw.others = {headed.extras[place] or letter(place): cells for place, cells in extras.items()}
    is_delimited = sheet.table is not None and not sheet.has_names
    if not table.is_feed:
        others = [cells for name, cells in raw.columns.items() if name not in ("troop", "week_ending")]
        raw.placeholders = [k for k, is_filled in enumerate(any_filled(others, len(raw))) if not is_filled]
    findings = [*_told_of_extras(raw, headed, extras, is_delimited=is_delimited)]
    if is_delimited:
        findings += _short_lines(raw, headed)
        decimal_signs.doubt(raw, sheet, headed.places, extras)
    return raw, findings


def any_filled(columns: Iterable[Cells], length: int) -> list[bool]:
    """For each row whether any of the columns holds something."""
    filled: pa.Array = pa.array([False] * length, pa.bool_())
    for cells in columns:
        if not isinstance(cells, pa.Array):
            one = pa.array([not is_empty(cell) for cell in cells], pa.bool_())
        elif pa.types.is_string(cells.type) or pa.types.is_large_string(cells.type):
            one = pc.fill_null(pc.greater(pc.utf8_length(pc.utf8_trim_whitespace(cells)), 0), False)
        else:
            one = pc.is_valid(cells)
        filled = pc.or_(filled, one)
    return list(filled.to_pylist())


def picked(cells: Cells, keep: list[int]) -> Cells:
    """The cells at these positions."""
    return cells.take(pa.array(keep, pa.int64())) if isinstance(cells, pa.Array) else [cells[k] for k in keep]


def _without_blank_rows(raw: Raw, filled: list[bool]) -> Raw:
    keep = [k for k, is_filled in enumerate(filled) if is_filled]
    columns = {name: picked(cells, keep) for name, cells in raw.columns.items()}
    row_nos = picked(raw.row_nos, keep)
    return Raw(raw.table, raw.file_nos, raw.sheets, row_nos, columns, raw.letters)


def _short_lines(raw: Raw, headed: Headed) -> list[Finding]:
    """Lines of a delimited file that end before the header does: told; the last one is held, it may be cut off."""
    missing: dict[int, str] = {}
    for name in sorted(headed.places, key=lambda column: headed.places[column]):
        for row in pc.indices_nonzero(pc.is_null(raw.columns[name])).to_pylist():
            missing.setdefault(row, name)
    if not missing:
        return []
    last = len(raw) - 1
    if last in missing and last not in raw.placeholders:
        cell = raw.cell(last, missing.pop(last))
        how = "The file may have been cut off: send it again, whole."
        raw.row_faults.setdefault(last, []).append(
            Finding(raw.sheet(last), cell, "a last line that ends too soon", "a cell for each header", how)
        )
    if not missing:
        return []
    first = min(missing)
    how = "What is missing was taken for empty."
    found = f"{len(missing):,} lines that end too soon, this one first"
    return [Finding(raw.sheet(first), raw.cell(first, missing[first]), found, "a cell for each header", how, True)]


def _told_of_extras(raw: Raw, headed: Headed, extras: dict[int, Cells], *, is_delimited: bool) -> list[Finding]:
    """Columns that the table does not know: passed over with a note, save where something would vanish.

    In a delimited file a cell beyond the header says that a separator stands inside a value: the rest has shifted.
    """
    notes = []
    for place, cells in extras.items():
        header = headed.extras[place]
        filled = [k for k, is_filled in enumerate(any_filled([cells], len(raw))) if is_filled]
        if not filled:
            continue
        cell = f"{letter(place)}{headed.header_row + 1}" if headed.header_row >= 0 else header
        if headed.table.name in WIDE_SHEETS:
            for row in filled:
                raw.row_faults.setdefault(row, []).append(unknown_header(raw.sheet(row), cell, header))
        elif header and fold(header) in headed.table.folded:
            for row in filled:
                raw.row_faults.setdefault(row, []).append(second_block(raw.sheet(row), cell, header))
        elif is_delimited and not header:
            how = "Put a value that holds the separator in quotes, or give the column a header."
            for row in filled:
                where = f"{letter(place)}{raw.row_nos[row]}"
                raw.row_faults.setdefault(row, []).append(
                    Finding(raw.sheet(row), where, "a cell without a header", "no more cells than headers", how)
                )
        else:
            notes.append(
                Finding(
                    raw.sheet(0),
                    cell,
                    shown(header) or "no header",
                    "a column that is known",
                    "This column was passed over; nothing in it was counted.",
                    is_note=True,
                )
            )
    return notes


def second_block(sheet: str, cell: str, header: str) -> Finding:
    """What is told of a column that stands there already: a second block of rows beside the first."""
    how = "Put the rows of the second block below the first: they were not read."
    return Finding(sheet, cell, f"a second column {shown(header)}", "one block of rows, one column of each name", how)


def unknown_header(sheet: str, cell: str, header: str) -> Finding:
    return Finding(
        sheet,
        cell,
        shown(header) or "no header over filled cells",
        "an item's code, or a column that is known",
        "Correct the header, or empty the cells below it: its packages would not be counted.",
    )


def nearest(sheet: Sheet) -> tuple[Table, list[str]] | None:
    """The table whose headers a sheet comes nearest to, with those it lacks."""
    best: tuple[float, Table, list[str]] | None = None
    for _row, header in _headers(sheet)[:5]:
        for table in TABLES.values():
            places, _extras = placed(table, header)
            needed = [column.name for column in table.columns if column.required]
            share = sum(name in places for name in needed) / len(needed)
            if share and (best is None or share > best[0]):
                best = (share, table, [name for name in needed if name not in places])
    return (best[1], best[2]) if best else None
