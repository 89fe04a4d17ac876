"""Whether what a workbook holds stays within its limits; told cell by cell where it does not.

Comes in: sheets of cells as they were read, and Limits. Goes out: nothing, or what is told of the first limit that is
broken. It looks at each filled row once.
"""

from collections.abc import Sequence
from typing import Protocol

from pipelines.definitions.limits import MOST_IN_A_CELL, MOST_IN_A_SHEETS_NAME, Limits
from pipelines.intake.files.wire import Told, column_letters

SMALLER = "Delete what does not belong to it, or send it in parts."


class SheetOfCells(Protocol):
    """A sheet as a reader leaves it (wire.Cells) or as stages share it (records.Sheet)."""

    @property
    def name(self) -> str: ...
    @property
    def rows(self) -> list[list[object]] | None: ...


def over_limit(sheets: Sequence[SheetOfCells], limits: Limits) -> Told | None:
    """What is told of a workbook that is over one of its limits; None: it is within all of them."""
    if len(sheets) > limits.sheets:
        return _told(f"{len(sheets):,} sheets", limits.sheets, "sheets", limits)
    cells = characters = 0
    for sheet in sheets:
        rows = sheet.rows or []
        if fault := _bad_name(sheet.name) or _too_far(sheet.name, rows, limits):
            return fault
        filled = 0
        for number, row in enumerate(rows, 1):
            here = [cell for cell in row if cell is not None]
            texts = [len(cell) for cell in here if isinstance(cell, str)]
            if texts and max(texts) > MOST_IN_A_CELL:
                return _too_long(sheet.name, number, row)
            filled, cells, characters = filled + bool(here), cells + len(here), characters + sum(texts)
        counted = (
            (f"a sheet of {filled:,} filled rows", filled, limits.rows, "filled rows"),
            (f"{cells:,} filled cells", cells, limits.cells, "filled cells"),
            (f"{characters:,} characters of text", characters, limits.characters, "characters"),
        )
        for found, count, most, what in counted:
            if count > most:
                return _told(found, most, what, limits, sheet.name)
    return None


def _told(found: str, most: int, what: str, limits: Limits, sheet: str = "") -> Told:
    return Told(found, f"at most {most:,} {what} in {limits.whose}", SMALLER, sheet)


def _bad_name(sheet: str) -> Told | None:
    if len(sheet) <= MOST_IN_A_SHEETS_NAME:
        return None
    found, expected = f"a sheet whose name has {len(sheet):,} characters", f"at most {MOST_IN_A_SHEETS_NAME}"
    return Told(found, expected, "Give the sheet a shorter name.")


def _too_far(sheet: str, rows: Sequence[Sequence[object]], limits: Limits) -> Told | None:
    """A cell that stands below or right of where a table can stand; rows end at their last filled cell."""
    width = max(map(len, rows), default=0)
    most = f"at most {limits.columns:,} columns and {limits.last_row:,} rows in {limits.whose}"
    if width > limits.columns:
        row = next(k for k, row in enumerate(rows) if len(row) > limits.columns)
    elif len(rows) > limits.last_row:
        row = next(k for k in range(limits.last_row, len(rows)) if rows[k])
    elif width * len(rows) > limits.area:
        row = len(rows) - 1
        most = f"a table of at most {limits.area:,} cells, empty ones counted, in {limits.whose}"
    else:
        return None
    found = f"a filled cell far from the table, in {column_letters(len(rows[row]) - 1)}{row + 1}"
    how = "Delete what stands far below or to the right of the table, save, and send it again."
    return Told(found, most, how, sheet, f"{column_letters(len(rows[row]) - 1)}{row + 1}")


def _too_long(sheet: str, number: int, row: Sequence[object]) -> Told:
    at = next(k for k, cell in enumerate(row) if isinstance(cell, str) and len(cell) > MOST_IN_A_CELL)
    found, expected = f"a cell of {len(str(row[at])):,} characters", f"at most {MOST_IN_A_CELL:,} characters"
    return Told(found, expected, "Shorten the text.", sheet, f"{column_letters(at)}{number}")
