"""Files made by hand for the tests of the readers: good ones, odd ones, and ones that nobody should be sent.

Comes in: cells or raw XML. Goes out: bytes. The raw makers write what no library would.
"""

import io
import struct
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time

import xlsxwriter

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/"
DAY, SPAN, CLOCK, MOMENT = 1, 2, 3, 4  # styles of a raw workbook
STYLES = (
    f'<styleSheet xmlns="{MAIN}"><numFmts count="2"><numFmt numFmtId="165" formatCode="[h]:mm"/>'
    '<numFmt numFmtId="166" formatCode="yyyy-mm-dd hh:mm"/></numFmts><fonts count="1"><font/></fonts>'
    '<fills count="1"><fill><patternFill patternType="none"/></fill></fills><borders count="1"><border/></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="5">'
    '<xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="165"/><xf numFmtId="21"/><xf numFmtId="166"/></cellXfs>'
    "</styleSheet>"
)
OPEN_DOCUMENT = "urn:oasis:names:tc:opendocument:xmlns:"
ODS_SPACES = (
    f'xmlns:office="{OPEN_DOCUMENT}office:1.0" xmlns:table="{OPEN_DOCUMENT}table:1.0" '
    f'xmlns:text="{OPEN_DOCUMENT}text:1.0" xmlns:style="{OPEN_DOCUMENT}style:1.0" '
    f'xmlns:draw="{OPEN_DOCUMENT}drawing:1.0" xmlns:of="{OPEN_DOCUMENT}of:1.2" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
)
ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
ODS_MANIFEST = (
    f'<manifest:manifest xmlns:manifest="{OPEN_DOCUMENT}manifest:1.0"><manifest:file-entry manifest:full-path="/" '
    f'manifest:media-type="{ODS_TYPE}"/></manifest:manifest>'
)
Rows = list[list[object]]


def zipped(parts: dict[str, str | bytes], *, stored: tuple[str, ...] = ()) -> bytes:
    """A zip of these parts."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content, zipfile.ZIP_STORED if name in stored else zipfile.ZIP_DEFLATED)
    return held.getvalue()


def written(sheets: dict[str, Rows], *, is_1904: bool = False, hidden: tuple[str, ...] = ()) -> bytes:
    """A workbook as XlsxWriter writes it."""
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True, "strings_to_formulas": False, "date_1904": is_1904})
    day, clock = book.add_format({"num_format": "yyyy-mm-dd"}), book.add_format({"num_format": "hh:mm:ss.000"})
    moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss.000"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                if isinstance(value, datetime | date | time):
                    style = moment if isinstance(value, datetime) else day if isinstance(value, date) else clock
                    sheet.write_datetime(r, c, value, style)
                elif isinstance(value, str):
                    sheet.write_string(r, c, value)
                elif value is not None:
                    sheet.write(r, c, value)
        if name in hidden:
            sheet.hide()
    book.close()
    return held.getvalue()


def raw_parts(sheet: str, *, shared: str = "", before_sheets: str = "", styles: str = STYLES) -> dict[str, str | bytes]:
    """The parts of a workbook whose one sheet is this XML."""
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml."
    overrides = {
        "workbook": kind + "sheet.main+xml",
        "worksheets/sheet1": kind + "worksheet+xml",
        "sharedStrings": kind + "sharedStrings+xml",
        "styles": kind + "styles+xml",
    }
    relations = {"worksheet": "worksheets/sheet1.xml", "sharedStrings": "sharedStrings.xml", "styles": "styles.xml"}
    return {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE}content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        + "".join(f'<Override PartName="/xl/{part}.xml" ContentType="{of}"/>' for part, of in overrides.items())
        + "</Types>",
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE}relationships"><Relationship Id="rId1" '
        f'Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{RELATIONS}">{before_sheets}'
        '<sheets><sheet name="Stock" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}relationships">'
        + "".join(
            f'<Relationship Id="rId{k}" Type="{RELATIONS}/{of}" Target="{target}"/>'
            for k, (of, target) in enumerate(relations.items(), 1)
        )
        + "</Relationships>",
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{MAIN}">{sheet}</worksheet>',
        "xl/sharedStrings.xml": f'<sst xmlns="{MAIN}">{shared}</sst>',
        "xl/styles.xml": styles,
    }


def raw_xlsx(cells: str, *, after: str = "", **more: str) -> bytes:
    """A workbook whose sheet Stock holds these `<row>` elements."""
    return zipped(raw_parts(f"<sheetData>{cells}</sheetData>{after}", **more))


def row(number: int, *cells: str) -> str:
    """One row of raw XML."""
    return f'<row r="{number}">{"".join(cells)}</row>'


def ods(body: str, *, before: str = "", styles: str = "", manifest: str = ODS_MANIFEST) -> bytes:
    """An OpenDocument spreadsheet whose sheet Stock holds this XML."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {ODS_SPACES}>'
        f"<office:automatic-styles>{styles}</office:automatic-styles><office:body><office:spreadsheet>{before}"
        f'<table:table table:name="Stock">{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    parts: dict[str, str | bytes] = {"mimetype": ODS_TYPE, "META-INF/manifest.xml": manifest, "content.xml": content}
    return zipped(parts, stored=("mimetype",))


def ods_row(*cells: str, repeated: int = 1) -> str:
    """One row of raw OpenDocument XML."""
    times = f' table:number-rows-repeated="{repeated}"' if repeated > 1 else ""
    return f"<table:table-row{times}>{''.join(cells)}</table:table-row>"


def ods_cell(kind: str = "", value: str = "", text: str | None = None, more: str = "", *, covered: bool = False) -> str:
    """One cell of raw OpenDocument XML: its value type, stored value, shown text and further attributes."""
    name = {"date": "date-value", "time": "time-value", "boolean": "boolean-value", "string": "string-value"}
    attributes = f' office:value-type="{kind}"' if kind else ""
    attributes += f' office:{name.get(kind, "value")}="{value}"' if value else ""
    tag = "table:covered-table-cell" if covered else "table:table-cell"
    shown = "" if text is None else f"<text:p>{text}</text:p>"
    return f"<{tag}{attributes} {more}>{shown}</{tag}>"


def with_lying_size(payload: bytes, part: str, claimed: int) -> bytes:
    """The same zip, claiming that a part is this large once unpacked, in both places where it says so."""
    with zipfile.ZipFile(io.BytesIO(payload)) as packed:
        true = packed.getinfo(part).file_size
    changed = bytearray(payload)
    for signature, at, name_at in ((b"PK\x03\x04", 22, 30), (b"PK\x01\x02", 24, 46)):
        start = changed.find(signature)
        while start >= 0:
            is_part = changed[start + name_at : start + name_at + len(part)] == part.encode()
            if is_part and struct.unpack_from("<I", changed, start + at)[0] == true:
                struct.pack_into("<I", changed, start + at, claimed)
            start = changed.find(signature, start + 4)
    return bytes(changed)


def edited(payload: bytes, edit: Callable[[str, bytes], bytes]) -> bytes:
    """The same zip with each part passed through `edit`."""
    with zipfile.ZipFile(io.BytesIO(payload)) as packed:
        return zipped({name: edit(name, packed.read(name)) for name in packed.namelist()})


def ole2(*streams: str) -> bytes:
    """A file in the wrapping of old office programs whose directory names these streams (and nothing more)."""
    names = b"".join(name.encode("utf-16-le").ljust(128, b"\x00") for name in ("Root Entry", *streams))
    return (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + names).ljust(4096, b"\x00")
