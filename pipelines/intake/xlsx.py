"""An .xlsx or .xlsm workbook → its cells.

Comes in: the file's bytes. Goes out: Contents. Values come from python-calamine where every cell of the workbook has a
form in which it is known to be right (is_sure), in a fraction of openpyxl's time, and from openpyxl elsewhere. calamine
drops error cells and formulas without a value silently, trims text, reads `1<!-- -->2` as 1, and aborts the process on
two cells a million rows apart.
"""

import io
import re
from collections.abc import Iterable
from datetime import time

import python_calamine

from pipelines.intake.archive import Parts, is_plain_xml
from pipelines.intake.cells import Uncertain, tidy
from pipelines.intake.wire import Cells, Contents, Told, note, unreadable

MOST_FAST = 64_000_000  # bytes of XML once unpacked: 1.5 million cells, about 3 s
MOST_CAREFUL = 12_000_000  # the same for openpyxl: about 2.5 s, twice that where formulas have no value
SPARE_CELLS = 4_000_000  # empty cells between filled ones that calamine may lay out
# Parts that hold no cell and are read by neither library's way to the cells.
BESIDE = re.compile(
    r"(docProps|customXml|xl/(media|theme|drawings|charts|printerSettings|embeddings|ctrlProps|activeX|diagrams))/"
    r"|.*\.(bin|vml|png|jpe?g|gif|emf|wmf|tiff?)$",
    re.IGNORECASE,
)

NUMBER = rb"-?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]{1,2})?"
FORMULA = rb"(?:<f(?: [^<>]*)?(?:/>|>[^<]*</f>)\s*)?"
STYLE = rb'(?: (?:s|cm|vm)="[0-9]+")*'
END = rb"\s*</c>"
# Every form of a cell in which calamine is right. Whatever is not of these forms goes to openpyxl: errors (t="e"),
# formulas without a value, days as text (t="d"), numbers in unusual forms, attributes in unusual quotes.
SURE_CELL = re.compile(
    rb'<c(?: r="([A-Z]{1,3}[1-9][0-9]{0,6})")?' + STYLE + rb"(?:"
    rb'(?: t="n")?' + STYLE + rb"(?:/>|>(?:\s*" + FORMULA + rb"<v>" + NUMBER + rb"</v>)?" + END + rb")"
    rb'| t="s"' + STYLE + rb"(?:/>|>\s*<v>[0-9]+</v>" + END + rb")"
    rb'| t="b"' + STYLE + rb"(?:/>|>\s*" + FORMULA + rb"<v>[01]</v>" + END + rb")"
    rb'| t="str"' + STYLE + rb"(?:/>|>\s*" + FORMULA + rb'<v(?: xml:space="preserve")?(?:/>|>[^<]*</v>)' + END + rb")"
    rb'| t="inlineStr"' + STYLE + rb"(?:/>|>\s*<is>(?:[^<]|<(?!/is>))*</is>" + END + rb")"
    rb")"
)
ANY_CELL = re.compile(rb"<c[\s/>]")
PREFIX = re.compile(rb"\s*(?:<\?xml[^>]*\?>)?\s*<([A-Za-z][\w.-]*):worksheet[\s>]")
PREFIXED_CELL = re.compile(rb"<[A-Za-z_][\w.-]*:c[\s/>]")
TRIMMED_TEXT = re.compile(rb"<t>(?:\s|[^<]*\s</t>)")
MISSING_VALUE = re.compile(rb"<(?:\w+:)?f(?:\s[^<>]*)?(?:/>|>[^<]*</(?:\w+:)?f>)\s*+(?!<(?:\w+:)?v>[^<])")


def read_xlsx(payload: bytes, parts: Parts) -> Contents:
    """The cells of a workbook; raises Unreadable."""
    names = [name for name in parts if not BESIDE.match(name)]
    size = parts.size(names)
    if size > MOST_FAST:
        raise _too_large(size, MOST_FAST, "")
    xml = {name: parts.read(name) for name in names}
    told = _told_of_company(parts.names)
    if is_sure(xml.values()):
        try:
            return Contents(_fast(payload, xml), told)
        except (Uncertain, python_calamine.CalamineError, LookupError):
            pass  # calamine itself says that it is not sure: openpyxl looks again
    if size > MOST_CAREFUL:
        raise _too_large(size, MOST_CAREFUL, " with errors, formulas without a value, or cells in an unusual form")
    # Loaded only here: openpyxl costs 130 ms, which most workbooks never need.
    from pipelines.intake.xlsx_careful import read_carefully  # noqa: PLC0415

    is_missing = any(MISSING_VALUE.search(part) for part in xml.values())
    is_escaped = any(b"_x005F_" in part for name, part in xml.items() if "sharedstrings" in name.lower())
    return Contents(read_carefully(payload, with_formulas=is_missing, shared_are_unescaped=is_escaped), told)


def is_sure(xml: Iterable[bytes]) -> bool:
    """Whether calamine's reading of these parts can be relied upon, cell by cell."""
    return all(is_plain_xml(part) and not TRIMMED_TEXT.search(part) and _are_cells_sure(part) for part in xml)


def _are_cells_sure(part: bytes) -> bool:
    """Whether each cell of a sheet has a sure form and stands near enough to the others."""
    if prefix := PREFIX.match(part):
        part = part.replace(b"<" + prefix[1] + b":", b"<").replace(b"</" + prefix[1] + b":", b"</")
    count = len(ANY_CELL.findall(part))
    if PREFIXED_CELL.search(part):
        return False
    if not count:
        return True
    places = SURE_CELL.findall(part)
    if len(places) != count:
        return False
    named = set(places)
    if named == {b""}:  # cells without a place follow one another
        width = max(row.count(b"<c") for row in part.split(b"<row"))
        return part.count(b"<row") * width <= SPARE_CELLS + 4 * count
    if len(named) != count:  # a place named twice, or places named here and there
        return False
    width = max(map(_column_number, {one.rstrip(b"0123456789") for one in named}))
    height = max(map(int, {one.lstrip(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ") for one in named}))
    return width * height <= SPARE_CELLS + 4 * count


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _fast(payload: bytes, xml: dict[str, bytes]) -> list[Cells]:
    book = python_calamine.load_workbook(io.BytesIO(payload))
    has_negative = any(b"<v>-" in part for part in xml.values())
    merged = any(b"mergeCell " in part for part in xml.values())
    sheets = []
    for sheet in book.sheets_metadata:
        if sheet.typ != python_calamine.SheetTypeEnum.WorkSheet:
            continue
        cells = book.get_sheet_by_name(sheet.name)
        rows = tidy(cells.to_python(skip_empty_area=False))
        if has_negative and _holds_midnight(rows):  # calamine shows a negative day as the time 00:00
            raise Uncertain(sheet.name)
        if merged:
            clear_merged(rows, cells.merged_cell_ranges or [])
        sheets.append(Cells(sheet.name, rows, [], sheet.visible != python_calamine.SheetVisibleEnum.Visible))
    if not sheets:
        raise Uncertain("no sheet")
    return sheets


def _holds_midnight(rows: list[list[object]]) -> bool:
    return any(cell == time.min for row in rows for cell in row if cell.__class__ is time)


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
