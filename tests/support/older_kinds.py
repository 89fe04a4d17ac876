"""A week as an .xls or an .ods workbook: the cells, struck-out and raised text, and number formats that say something.

Comes in: rows by sheet, the looks of cells (meaning.File). Goes out: bytes.
"""

import io
from datetime import date
from typing import Any
from xml.sax.saxutils import escape

import xlwt
from made_files import ODS_MANIFEST, ODS_SPACES, ODS_TYPE, zipped
from openpyxl.cell.rich_text import CellRichText, TextBlock

Looks = dict[tuple[str, int, int], dict[str, Any]]
STYLES = (
    '<style:style style:name="struck" style:family="table-cell">'
    '<style:text-properties style:text-line-through-style="solid"/></style:style>'
    '<style:style style:name="out" style:family="text">'
    '<style:text-properties style:text-line-through-type="single"/></style:style>'
    '<style:style style:name="up" style:family="text">'
    '<style:text-properties style:text-position="super 58%"/></style:style>'
)


def runs(cell: CellRichText) -> list[tuple[str, bool, bool]]:
    """The runs of a text: struck through, raised."""
    return [
        (one.text, bool(one.font.strike), one.font.vertAlign == "superscript") if isinstance(one, TextBlock)
        else (one, False, False)
        for one in cell
    ]  # fmt: skip


def as_xls(sheets: dict[str, list[list[Any]]], looks: Looks) -> bytes:
    book = xlwt.Workbook()
    for name, rows in sheets.items():
        sheet = book.add_sheet(name)
        for r, row in enumerate(rows):
            for c, cell in enumerate(row):
                look = looks.get((name, r, c), {})
                style = xlwt.easyxf("font: struck_out true" if look.get("struck") else "")
                style.num_format_str = "yyyy-mm-dd" if isinstance(cell, date) else look.get("format", "General")
                if isinstance(cell, CellRichText):
                    sheet.write_rich_text(r, c, [(text, _font(*how)) for text, *how in runs(cell)])
                elif isinstance(cell, str) and cell.startswith("="):
                    sheet.write(r, c, xlwt.Formula(cell[1:]))
                elif cell is not None:
                    sheet.write(r, c, cell, style)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def _font(is_struck: bool, is_raised: bool) -> xlwt.Font:
    font = xlwt.Font()
    font.struck_out = is_struck
    font.escapement = xlwt.Font.ESCAPEMENT_SUPERSCRIPT if is_raised else xlwt.Font.ESCAPEMENT_NONE
    return font


def as_ods(sheets: dict[str, list[list[Any]]], looks: Looks) -> bytes:
    tables = "".join(
        f'<table:table table:name="{escape(name)}">' + "".join(
            "<table:table-row>"
            + "".join(_ods_cell(cell, looks.get((name, r, c), {})) for c, cell in enumerate(row))
            + "</table:table-row>"
            for r, row in enumerate(rows)
        ) + "</table:table>"
        for name, rows in sheets.items()
    )  # fmt: skip
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {ODS_SPACES}><office:automatic-styles>{STYLES}'
        f"</office:automatic-styles><office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    return zipped({"mimetype": ODS_TYPE, "META-INF/manifest.xml": ODS_MANIFEST, "content.xml": content})


def _ods_cell(cell: Any, look: dict[str, Any]) -> str:
    style = ' table:style-name="struck"' if look.get("struck") else ""
    if isinstance(cell, CellRichText):
        parts = [(escape(text), "out" if struck else "up" if up else "") for text, struck, up in runs(cell)]
        text = "".join(f'<text:span text:style-name="{how}">{one}</text:span>' if how else one for one, how in parts)
        return f'<table:table-cell{style} office:value-type="string"><text:p>{text}</text:p></table:table-cell>'
    if isinstance(cell, date):
        return f'<table:table-cell{style} office:value-type="date" office:date-value="{cell:%Y-%m-%d}"/>'
    if isinstance(cell, str) and cell.startswith("="):
        return f'<table:table-cell{style} table:formula="of:{escape(cell)}"/>'
    if isinstance(cell, int | float):
        shown = _shown(cell, look.get("format", "0"))
        return f'<table:table-cell{style} office:value-type="float" office:value="{cell}">{shown}</table:table-cell>'
    text = "" if cell is None else f"<text:p>{escape(str(cell))}</text:p>"
    return f"<table:table-cell{style}>{text}</table:table-cell>"


def _shown(value: float, code: str) -> str:
    """The number as a spreadsheet with this format writes it."""
    if code.endswith("%"):
        return f"<text:p>{value * 100:g}%</text:p>"
    bare = code.replace('"', "").replace("[$€-407]", "€").replace("[Red]", "").replace("_-* ", "").replace("_-", "")
    digits = bare.strip("()€£$ casehCHF")
    text = bare.replace(digits, f"{value:,.2f}" if "." in digits else f"{value:g}", 1)
    return f"<text:p>{escape(text)}</text:p>"
