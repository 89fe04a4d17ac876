"""The workbooks in which only openpyxl tells every cell: errors, formulas without a value, unusual forms.

Comes in: a workbook's bytes. Goes out: its sheets, an error cell and a formula without a value each as a fault.
"""

import io
import warnings
from typing import NamedTuple

import openpyxl
from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.utils.datetime import from_excel
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pipelines.intake.files.archive import SAVE_AGAIN, damaged
from pipelines.intake.files.cells import Sparse, Uncertain, plain, unescaped
from pipelines.intake.files.wire import Cells, unreadable

# Day formats of East Asian versions, which openpyxl takes for numbers (ECMA-376 part 1, 18.8.30).
EAST_ASIAN_DAYS = frozenset({*range(27, 37), *range(50, 59)})


class Counted(NamedTuple):
    """What stands in a workbook's XML: cells, those that store a value, sheets listed, parts that hold cells."""

    cells: int
    values: int
    sheets: int
    tables: int


def read_carefully(payload: bytes, counted: Counted, *, with_formulas: bool, shared_are_unescaped: bool) -> list[Cells]:
    """The sheets of a workbook; raises Unreadable, also where fewer are found than were `counted`.

    `with_formulas`: some formula stores no value, so the formulas are read too. `shared_are_unescaped`: openpyxl takes
    `x005F_` out of shared texts, after which `_x0041_` is that very text and no escape any more.
    """
    values = _load(payload, values_only=True)
    formulas = _load(payload, values_only=False) if with_formulas else None
    if not values.worksheets:
        raise unreadable("a workbook without a sheet of cells", "at least one sheet with cells", SAVE_AGAIN)
    _compare(values, counted)
    found = []
    for sheet in values.worksheets:
        sparse = Sparse(sheet.title, is_hidden=sheet.sheet_state != "visible")
        for (row, column), cell in _cells(sheet).items():
            _take(sparse, row - 1, column - 1, cell, values, is_escaped=not shared_are_unescaped)
        if formulas is not None:
            _take_missing(sparse, _cells(sheet), _cells(formulas[sheet.title]))
        found.append(sparse.laid_out())
    return found


def _compare(book: Workbook, counted: Counted) -> None:
    """Raises Unreadable where openpyxl passed silently over something."""
    # A sheet whose part is missing, or holds no table of cells.
    if len(book._sheets) < counted.sheets or len(book.worksheets) > counted.tables:
        raise damaged("the cells of a sheet that it lists are missing")
    # Cells in a namespace that it does not know (strict workbooks), or named twice.
    if sum(len(_cells(sheet)) for sheet in book.worksheets) < counted.cells:
        raise damaged("some of its cells cannot be found, or stand twice in one place")
    if any(row < 1 or column < 1 for sheet in book.worksheets for row, column in _cells(sheet)):
        raise damaged("a cell of it stands in row 0")
    # Values in a cell whose type says that they stand elsewhere; those under a merged cell it leaves out rightly.
    cells = [cell for sheet in book.worksheets for cell in _cells(sheet).values()]
    if sum(cell.value is not None or isinstance(cell, MergedCell) for cell in cells) < counted.values:
        raise damaged("some of its cells store a value that does not fit their type")


def _load(payload: bytes, *, values_only: bool) -> Workbook:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it warns of styles and extensions that hold no cell
            return openpyxl.load_workbook(io.BytesIO(payload), data_only=values_only, keep_links=False)
    except MemoryError:
        raise
    except Exception as error:  # whatever a library raises on a hostile file is one thing to a person
        raise damaged("it cannot be understood") from error


def _cells(sheet: Worksheet) -> dict[tuple[int, int], Cell]:
    """The cells that the file holds; the public ways make each empty one between them, up to 17 billion."""
    return sheet._cells  # type: ignore[no-any-return]


def _take(sparse: Sparse, row: int, column: int, cell: Cell, book: Workbook, *, is_escaped: bool) -> None:
    value = cell.value
    if value is None:
        return
    if cell.data_type == "e":
        sparse.fault(row, column, str(value), "error")
    elif isinstance(value, str):
        sparse.put(row, column, unescaped(value) if is_escaped else value)
    else:
        if isinstance(value, (int, float)) and cell.has_style and cell._style.numFmtId in EAST_ASIAN_DAYS:
            value = from_excel(value, book.epoch)
        try:
            sparse.put(row, column, plain(value))
        except Uncertain as day:
            sparse.fault(row, column, str(day), "error")


def _take_missing(sparse: Sparse, values: dict[tuple[int, int], Cell], formulas: dict[tuple[int, int], Cell]) -> None:
    """Formulas that store no value; one that stores an empty text (data_type `str`) has its value."""
    for (row, column), cell in formulas.items():
        stored = values.get((row, column))
        if cell.data_type == "f" and (stored is None or (stored.value is None and stored.data_type != "str")):
            text = getattr(cell.value, "text", cell.value)  # of an array formula, its text
            sparse.fault(row - 1, column - 1, text if isinstance(text, str) else "a table of formulas", "no value")
