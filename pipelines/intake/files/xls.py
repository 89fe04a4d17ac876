"""An .xls workbook of before 2007 → its cells.

Comes in: the file's bytes. Goes out: Contents. xlrd is used, since it tells error cells by their place; python-calamine
shows them as empty.
"""

import os
import struct
from typing import Any

import xlrd

from pipelines.definitions.limits import BULK, Limits
from pipelines.intake.files.archive import damaged, locked
from pipelines.intake.files.cells import Sparse, Uncertain, plain
from pipelines.intake.files.file_kinds import OLE2, not_a_spreadsheet
from pipelines.intake.files.shown import as_seen, marked, unit_of
from pipelines.intake.files.wire import Contents, unreadable

LAST = 0xFFFFFFFA  # numbers from here on are no sectors
SEEN = (xlrd.XL_CELL_TEXT, xlrd.XL_CELL_NUMBER)
OTHERS = (
    ("WordDocument", "a text document (Word)"),
    ("PowerPoint Document", "a set of slides"),
    ("__properties_version1.0", "an e-mail"),
)


def read_xls(payload: bytes, limits: Limits = BULK) -> Contents:
    """The cells of an .xls file; raises Unreadable."""
    if payload.startswith(OLE2):
        _refuse_others(payload)
        _refuse_rings(payload)
    most_bytes = min(limits.workbook_bytes, 40_000_000)  # xlrd reads 4 MB a second
    if len(payload) > most_bytes:
        how = "Save it as .xlsx, or each sheet as CSV, and send that."
        most = f"at most {most_bytes / 1e6:,.0f} MB"
        raise unreadable(f"an .xls workbook of {len(payload) / 1e6:,.0f} MB", most, how)
    book = _open(payload)
    sheets = []
    for sheet in book.sheets():
        sparse = Sparse(sheet.name, is_hidden=sheet.visibility != 0)
        covered = _covered(sheet)
        for row in range(sheet.nrows):
            for column, (kind, value) in enumerate(zip(sheet.row_types(row), sheet.row_values(row), strict=True)):
                if value != "" and (row, column) not in covered:
                    seen = _seen(book, sheet, row, column, value) if kind in SEEN else value
                    _take(sparse, row, column, kind, seen, book.datemode)
        sheets.append(sparse.laid_out())
    return Contents(sheets, [])


def _seen(book: Any, sheet: Any, row: int, column: int, value: Any) -> Any:
    """A cell as a person sees it, by the font and the number format of its style and the runs of its text."""
    style = book.xf_list[sheet.cell_xf_index(row, column)]
    font = book.font_list[style.font_index]
    if runs := sheet.rich_text_runlist_map.get((row, column)):
        ends = [*(at for at, _font in runs[1:]), len(value)]
        told = [(value[: runs[0][0]], font)]
        told += [(value[at:end], book.font_list[n]) for (at, n), end in zip(runs, ends, strict=True)]
        return marked((text, bool(one.struck_out), bool(one.escapement)) for text, one in told)
    format_of = book.format_map.get(style.format_key)
    unit = unit_of(format_of.format_str) if format_of else ("", "")
    return as_seen(value, unit, is_struck=bool(font.struck_out), is_raised=bool(font.escapement))


def _refuse_others(payload: bytes) -> None:
    """A file of the same wrapping (OLE2) that holds no workbook; the names of its streams stand in it as UTF-16."""
    if "EncryptedPackage".encode("utf-16-le") in payload:
        raise locked()
    if not any(name.encode("utf-16-le") in payload for name in ("Workbook", "Book")):
        known = [what for stream, what in OTHERS if stream.encode("utf-16-le") in payload]
        raise not_a_spreadsheet(known[0] if known else "a document of some other program, or a damaged one")


def _refuse_rings(payload: bytes) -> None:
    """A damaged list of sectors that leads back into itself: xlrd would follow it for ever ([MS-CFB] 2.2 to 2.4).

    Lists of files over 7 MB go on elsewhere and are not looked at: such a file ends at the reader's time limit.
    """
    try:
        sector = 1 << min(struct.unpack_from("<H", payload, 30)[0], 16)
        places = struct.unpack_from("<109I", payload, 76)
        following = [n for at in places if at < LAST for n in _numbers(payload, at, sector)]
        small: list[int] = []
        at = struct.unpack_from("<I", payload, 60)[0]
        if _has_ring(following):
            raise damaged("its list of sectors runs in a ring")
        while at < len(following):
            small += _numbers(payload, at, sector)
            at = following[at]
    except struct.error:
        raise damaged("its list of sectors is cut short") from None
    if _has_ring(small):
        raise damaged("its list of sectors runs in a ring")


def _numbers(payload: bytes, at: int, sector: int) -> tuple[int, ...]:
    return struct.unpack_from(f"<{sector // 4}I", payload, (at + 1) * sector)


def _has_ring(following: list[int]) -> bool:
    """Whether the sectors, each naming the one after it, come back to one of their own."""
    walked: list[int] = [0] * len(following)
    for start in range(len(following)):
        at = start
        while at < len(following) and not walked[at]:
            walked[at] = start + 1
            at = following[at]
        if at < len(following) and walked[at] == start + 1:
            return True
    return False


def _open(payload: bytes) -> Any:
    try:
        with open(os.devnull, "w", encoding="utf-8") as nowhere:  # noqa: PTH123 - xlrd prints its warnings
            # formatting_info: without it merged cells are not told. ragged_rows: empty formatted cells cost nothing.
            return xlrd.open_workbook(file_contents=payload, logfile=nowhere, formatting_info=True, ragged_rows=True)
    except MemoryError:
        raise
    except xlrd.XLRDError as error:
        if "encrypted" in str(error).lower():
            raise locked() from None
        raise damaged("it cannot be understood") from error
    except Exception as error:  # whatever a library raises on a hostile file is one thing to a person
        raise damaged("it cannot be understood") from error


def _covered(sheet: Any) -> set[tuple[int, int]]:
    """The cells under merged ones, save the top-left of each."""
    return {
        (row, column)
        for top, bottom, left, right in sheet.merged_cells
        for row in range(top, min(bottom, sheet.nrows))
        for column in range(left, right)
        if (row, column) != (top, left)
    }


def _take(sparse: Sparse, row: int, column: int, kind: int, value: Any, datemode: int) -> None:
    if kind == xlrd.XL_CELL_ERROR:
        sparse.fault(row, column, xlrd.error_text_from_code.get(value, "an error"), "error")
    elif kind == xlrd.XL_CELL_BOOLEAN:
        sparse.put(row, column, bool(value))
    elif kind == xlrd.XL_CELL_DATE:
        try:
            sparse.put(row, column, _day(value, datemode))
        except Uncertain as day:
            sparse.fault(row, column, str(day), "error")
    else:
        sparse.put(row, column, value)


def _day(serial: float, datemode: int) -> object:
    """A serial as a day or time, to the millisecond as the other readers; one outside the calendar as it is."""
    if 0 <= serial < 1:
        serial = round(serial * 86_400_000) / 86_400_000
    try:
        moment = xlrd.xldate_as_datetime(serial, datemode)
    except (ValueError, OverflowError):
        return serial
    return moment.time() if 0 <= serial < 1 else plain(moment)
