"""The cells of an .xlsx workbook that a person sees otherwise than they are stored, told by the parts' XML.

Comes in: the parts, the sheets as either way of reading left them. Goes out: the same sheets, such cells as they are
seen (shown.py). Where no style and no text says so, it costs a look at the styles and the shared texts.
"""

import re
from collections.abc import Iterator
from html import unescape

from pipelines.intake.files.archive import Parts
from pipelines.intake.files.cells import unescaped
from pipelines.intake.files.shown import as_seen, marked, unit_of
from pipelines.intake.files.wire import Cells, Told

FORMAT = re.compile(rb"<numFmt\s[^<>]*?/?>")
ATTRIBUTE = re.compile(rb'([\w:]+)\s*=\s*"([^"]*)"')
FONTS = re.compile(rb"<fonts[\s>].*?</fonts>", re.DOTALL)
FONT = re.compile(rb"<font>.*?</font>|<font/>|<font\s[^<>]*/>|<font\s[^<>]*>.*?</font>", re.DOTALL)
STYLES = re.compile(rb"<cellXfs[\s>].*?</cellXfs>", re.DOTALL)
STYLE = re.compile(rb"<xf\s[^<>]*>")
STRUCK = re.compile(rb'<d?strike(?:\s*/>|\s+val="(?:1|true)"\s*/>|>)')
RAISED = re.compile(rb'<vertAlign\s+val="(?:superscript|subscript)"')
ITEM = re.compile(rb"<si[\s>].*?</si>|<si/>", re.DOTALL)
RUN = re.compile(rb"<r>(.*?)</r>", re.DOTALL)
TEXT = re.compile(rb"<t(?:\s[^<>]*)?>([^<]*)</t>")
CELL = re.compile(rb"<c\s([^<>]*?)(?:/>|>(.*?)</c>)", re.DOTALL)
VALUE = re.compile(rb"<v[^<>]*>([^<]*)</v>")
SHEET = re.compile(rb"<sheet\s[^<>]*>")
RELATION = re.compile(rb"<Relationship\s[^<>]*>")
BUILT_IN = {9: "0%", 10: "0.00%"}

Seen = tuple[tuple[str, str], bool, bool]  # of a style: the unit, whether it is struck through, whether it is raised
PLAIN: Seen = (("", ""), False, False)


def show_cells(parts: Parts, xml: dict[str, bytes], sheets: list[Cells]) -> list[Told]:
    """Puts cells that are seen otherwise into the sheets as they are seen; what is told where that cannot be done."""
    styles = {n: seen for n, seen in enumerate(_styles(_part(xml, "styles.xml"))) if seen != PLAIN}
    texts = dict(_texts(_part(xml, "sharedstrings.xml")))
    has_inline = any(b"inlineStr" in part and (STRUCK.search(part) or RAISED.search(part)) for part in xml.values())
    if not (styles or texts or has_inline):
        return []
    told = []
    of_sheet = _parts_of_sheets(parts, xml)
    for sheet in sheets:
        part = xml.get(of_sheet.get(sheet.name, ""))
        if part is not None and not _put(sheet, part, styles, texts):
            found = "cells with struck text, a unit or a currency, which cannot be placed"
            told.append(Told(found, "cells that show what they store", "Save it anew, and send that.", sheet.name))
    return told


def _part(xml: dict[str, bytes], name: str) -> bytes:
    return next((part for key, part in xml.items() if key.lower().endswith(f"xl/{name}")), b"")


def _attributes(tag: bytes) -> dict[str, str]:
    return {name.decode(): unescape(value.decode("utf-8", "replace")) for name, value in ATTRIBUTE.findall(tag)}


def _styles(part: bytes) -> Iterator[Seen]:
    """What each of the cells' styles makes of a cell."""
    codes = dict(BUILT_IN)
    for tag in FORMAT.findall(part):
        said = _attributes(tag)
        codes[int(said.get("numFmtId", "-1"))] = said.get("formatCode", "")
    fonts_part = FONTS.search(part)
    fonts = FONT.findall(fonts_part[0]) if fonts_part else []
    marks = [(STRUCK.search(font) is not None, RAISED.search(font) is not None) for font in fonts]
    listed = STYLES.search(part)
    for tag in STYLE.findall(listed[0]) if listed else ():
        said = _attributes(tag)
        font = int(said.get("fontId", "0"))
        is_struck, is_raised = marks[font] if font < len(marks) else (False, False)
        yield unit_of(codes.get(int(said.get("numFmtId", "0")), "")), is_struck, is_raised


def _texts(part: bytes) -> Iterator[tuple[bytes, str]]:
    """The shared texts of which some run is struck through or raised, by their number, as they are seen."""
    if not (STRUCK.search(part) or RAISED.search(part)):
        return
    for number, item in enumerate(ITEM.findall(part)):
        if STRUCK.search(item) or RAISED.search(item):
            yield str(number).encode(), _marked(item)


def _marked(item: bytes) -> str:
    runs = []
    for run in RUN.findall(item):
        text = "".join(unescape(piece.decode("utf-8", "replace")) for piece in TEXT.findall(run))
        runs.append((unescaped(text), STRUCK.search(run) is not None, RAISED.search(run) is not None))
    return marked(runs)


def _parts_of_sheets(parts: Parts, xml: dict[str, bytes]) -> dict[str, str]:
    """The part of each sheet by the sheet's name."""
    book = _part(xml, "workbook.xml")
    name = next((one for one in parts if one.lower().endswith("xl/_rels/workbook.xml.rels")), "")
    targets = {}
    for tag in RELATION.findall(parts.read(name) if name else b""):
        said = _attributes(tag)
        target = said.get("Target", "")
        targets[said.get("Id", "")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    found = {}
    for tag in SHEET.findall(book):
        said = _attributes(tag)
        relation = next((value for key, value in said.items() if key.endswith(":id")), "")
        found[said.get("name", "")] = targets.get(relation, "")
    return found


def _put(sheet: Cells, part: bytes, styles: dict[int, Seen], texts: dict[bytes, str]) -> bool:
    """Puts the cells of one sheet as they are seen; whether each could be placed."""
    for tag, inside in CELL.findall(part):
        if not inside:
            continue
        said = _attributes(tag)
        unit, is_struck, is_raised = styles.get(int(said.get("s", "0")), PLAIN)
        value = VALUE.search(inside)
        text = None
        if said.get("t") == "s" and value:
            text = texts.get(value[1])
        elif said.get("t") == "inlineStr" and (STRUCK.search(inside) or RAISED.search(inside)):
            text = _marked(inside)
        if text is None and (unit, is_struck, is_raised) == PLAIN:
            continue
        if "r" not in said:
            return False
        row, column = _place(said["r"])
        if row >= len(sheet.rows) or column >= len(sheet.rows[row]):
            continue  # empty, or under a merged cell
        stored = sheet.rows[row][column]
        shown, unit = (stored, unit) if text is None else (text, ("", ""))
        sheet.rows[row][column] = as_seen(shown, unit, is_struck=is_struck, is_raised=is_raised)
    return True


def _place(name: str) -> tuple[int, int]:
    letters = name.rstrip("0123456789")
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - 64
    return int(name[len(letters) :]) - 1, column - 1
