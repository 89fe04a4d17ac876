"""An .xlsx or .xlsm workbook → its cells.

Comes in: the file's bytes. Goes out: Contents. Values come from python-calamine where every cell of the workbook has a
form in which it is known to be right (is_sure), in a fraction of openpyxl's time, and from openpyxl elsewhere. calamine
drops error cells and formulas without a value silently, trims text, reads `1<!-- -->2` as 1, and aborts the process on
two cells a million rows apart.

Both readers are held against the parts of the workbook: as many sheets as parts with cells; openpyxl against sheets,
cells and values counted in the XML. Both pass over a sheet whose part is missing.
"""

import io
import re
from collections.abc import Iterable, Iterator
from datetime import time

import python_calamine

from pipelines.definitions.limits import BULK, Limits
from pipelines.intake.files.archive import Parts
from pipelines.intake.files.cells import Uncertain, tidy
from pipelines.intake.files.wire import Cells, Contents, Told, column_letters, note, unreadable
from pipelines.intake.files.xlsx_shown import show_cells
from pipelines.intake.files.xlsx_sure import count_cells, count_values, is_sure

# Parts that hold no cell and are read on neither way to the cells.
BESIDE_IN_XL = (
    "media",
    "theme",
    "drawings",
    "charts",
    "embeddings",
    "printersettings",
    "ctrlprops",
    "activex",
    "diagrams",
)
BESIDE_FOLDERS = ("docprops/", "customxml/", *(f"xl/{folder}/" for folder in BESIDE_IN_XL))
BESIDE_ENDINGS = (".bin", ".vml", ".png", ".jpg", ".jpeg", ".gif", ".emf", ".wmf", ".tif", ".tiff")
NEGATIVE = re.compile(rb'<c r="([A-Z]{1,3}[1-9][0-9]{0,6})"[^<>]*>\s*<v>-')
LISTED = re.compile(rb"<(?:\w+:)?sheet\s")
MISSING_VALUE = re.compile(rb"<(?:\w+:)?f(?:\s[^<>]*)?(?:/>|>[^<]*</(?:\w+:)?f>)\s*+(?!<(?:\w+:)?v>[^<])")


def read_xlsx(payload: bytes, parts: Parts, limits: Limits = BULK) -> Contents:
    """The cells of a workbook; raises Unreadable."""
    size = parts.size(_names_with_cells(parts))
    if size > limits.unpacked_bytes:
        raise _too_large(size, limits.unpacked_bytes, "")
    xml = xml_of(parts)
    told = _told_of_company(parts.names)
    saved = parts.saved("docProps/core.xml", b"dcterms:modified")
    saved += "Z" if saved else ""
    if is_sure(xml.values()):
        try:
            sheets = fast(payload, xml)
            return Contents(sheets, [*told, *show_cells(parts, xml, sheets)], saved=saved)
        except (Uncertain, python_calamine.CalamineError, LookupError):
            pass  # calamine itself says that it is not sure: openpyxl looks again
    if size > limits.careful_bytes:
        raise _too_large(
            size, limits.careful_bytes, " with errors, formulas without a value, or cells in an unusual form"
        )
    sheets = carefully(payload, xml)
    return Contents(sheets, [*told, *show_cells(parts, xml, sheets)], saved=saved)


def xml_of(parts: Parts) -> dict[str, bytes]:
    """The parts that say what the cells are."""
    return {name: parts.read(name) for name in _names_with_cells(parts)}


def _names_with_cells(parts: Parts) -> list[str]:
    folded = ((name, name.lower()) for name in parts)
    return [n for n, low in folded if not low.startswith(BESIDE_FOLDERS) and not low.endswith(BESIDE_ENDINGS)]


def carefully(payload: bytes, xml: dict[str, bytes]) -> list[Cells]:
    """The sheets by openpyxl; raises Unreadable."""
    # Loaded only here: openpyxl costs 130 ms, which most workbooks never need.
    from pipelines.intake.files.xlsx_careful import Counted, read_carefully  # noqa: PLC0415

    is_missing = any(MISSING_VALUE.search(part) for part in xml.values())
    is_escaped = any(b"_x005F_" in part for name, part in xml.items() if "sharedstrings" in name.lower())
    return read_carefully(
        payload,
        Counted(
            cells=count_cells(xml.values()),
            values=count_values(xml.values()),
            sheets=_sheets_listed(xml),
            tables=sum(b"sheetData" in part or b"dialogsheet" in part for part in xml.values()),
        ),
        with_formulas=is_missing,
        shared_are_unescaped=is_escaped,
    )


def _sheets_listed(xml: dict[str, bytes]) -> int:
    """Sheets of any sort that the workbook says it has."""
    return sum(len(LISTED.findall(part)) for name, part in xml.items() if name.lower().endswith("workbook.xml"))


def fast(payload: bytes, xml: dict[str, bytes]) -> list[Cells]:
    """The sheets by calamine, of a workbook that is_sure; raises Uncertain, CalamineError, LookupError."""
    book = python_calamine.load_workbook(io.BytesIO(payload))
    negatives = _negatives(xml.values())
    merged = any(b"mergeCell " in part for part in xml.values())
    sheets = []
    for sheet in book.sheets_metadata:
        if sheet.typ != python_calamine.SheetTypeEnum.WorkSheet:
            continue
        cells = book.get_sheet_by_name(sheet.name)
        rows = tidy(cells.to_python(skip_empty_area=False))
        if negatives and not negatives.isdisjoint(_times(rows)):  # calamine shows a negative day as a time of day
            raise Uncertain(sheet.name)
        if merged:
            clear_merged(rows, cells.merged_cell_ranges or [])
        sheets.append(Cells(sheet.name, rows, [], sheet.visible != python_calamine.SheetVisibleEnum.Visible))
    # calamine shows a sheet whose part is missing as an empty one, and passes over a part that no sheet names.
    tables = sum(b"sheetData" in part for name, part in xml.items() if "worksheets/" in name.lower())
    if len(sheets) != tables or not sheets:
        raise Uncertain("sheets and parts with cells do not agree")
    return sheets


def _negatives(parts: Iterable[bytes]) -> set[str]:
    """Where, on whichever sheet, a negative number stands; raises Uncertain where that cannot be told."""
    found: set[str] = set()
    for part in parts:
        if count := part.count(b"<v>-"):
            named = NEGATIVE.findall(part)
            if len(named) != count:
                raise Uncertain("negative numbers in cells without a name")
            found.update(name.decode() for name in named)
    return found


def _times(rows: list[list[object]]) -> Iterator[str]:
    for row_no, row in enumerate(rows, 1):
        for column, cell in enumerate(row):
            if cell.__class__ is time:
                yield f"{column_letters(column)}{row_no}"


def clear_merged(rows: list[list[object]], ranges: Iterable[tuple[tuple[int, int], tuple[int, int]]]) -> None:
    """Leaves of each merged range what its top-left cell holds, as a person sees it."""
    for (top, left), (bottom, right) in ranges:
        for r in range(top, min(bottom + 1, len(rows))):
            row = rows[r]
            for c in range(left + (r == top), min(right + 1, len(row))):
                row[c] = None
    rows[:] = tidy(rows)


def _told_of_company(names: list[str]) -> list[Told]:
    """Notes on what travels with the cells."""
    told = []
    folded = [name.lower() for name in names]
    if any(name.endswith("vbaproject.bin") or "/macrosheets/" in name for name in folded):
        told.append(note("a workbook with macros", "cells alone", "Nothing: the macros were not run."))
    if any("/externallinks/" in name for name in folded):
        how = (
            "Nothing, if the figures are up to date: the values last stored were used, other workbooks were not asked."
        )
        told.append(note("cells that draw on other workbooks", "values typed in, or formulas of this workbook", how))
    return told


def _too_large(size: int, most: int, what: str) -> Exception:
    return unreadable(
        f"a workbook of {size / 1e6:,.0f} MB once unpacked{what}",
        f"at most {most / 1e6:,.0f} MB",
        "Delete what is not needed, or save each sheet as CSV, and send that.",
    )
