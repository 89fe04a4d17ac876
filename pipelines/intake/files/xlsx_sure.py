"""Whether python-calamine's reading of a workbook can be relied upon, cell by cell.

Comes in: the XML of a workbook's parts. Goes out: yes, where every cell and text has one of the forms below. Each form
was compared with openpyxl by altering workbooks at random: what calamine takes otherwise is not among them. It is told
by pattern, not by parsing, since the parsing is what the fast way saves.
"""

import re
import string
from collections.abc import Iterable

from pipelines.intake.files.archive import is_plain_xml

SPARE_CELLS = 4_000_000  # empty cells between filled ones that calamine may lay out
DIGITS, LETTERS = string.digits.encode(), string.ascii_uppercase.encode()

NUMBER = rb"<v>-?[0-9]++(?:\.[0-9]++)?(?:[eE][-+]?[0-9]{1,2})?</v>"
FORMULA = rb"(?:<f(?: [^<>]*)?(?:/>|>[^<]*</f>)\s*)?"
STYLE = rb'(?: (?:s|cm|vm)="[0-9]++")*+'
# calamine trims a text that is not marked to keep its spaces, and openpyxl does not.
TEXT = rb'<t(?:>(?!\s)[^<]*(?<!\s)</t>| xml:space="preserve">[^<]*</t>|/>)\s*'
RUN = rb"<r>\s*(?:<rPr(?:/>|>(?:[^<]|<(?!/rPr>))*</rPr>)\s*)?" + TEXT + rb"</r>\s*"
READING = rb"(?:<rPh[^<>]*>\s*" + TEXT + rb"</rPh>\s*|<phoneticPr[^<>]*/>\s*)*+"
WORDS = rb"\s*(?:" + TEXT + rb"|(?:" + RUN + rb")*+)" + READING
# Not among the forms: errors (t="e"), formulas without a value, days as text (t="d"), numbers written in unusual ways,
# attributes in unusual quotes or spaces. The commonest forms stand first.
SURE_CELL = re.compile(
    rb'<c(?: r="([A-Z]{1,3}[1-9][0-9]{0,6})")?' + STYLE + rb"(?:"
    rb">" + NUMBER + rb"</c>"
    rb'| t="s"' + STYLE + rb"(?:><v>[0-9]++</v></c>|>\s*<v>[0-9]++</v>\s*</c>|/>)"
    rb"|/>"
    rb'|(?: t="n")?+' + STYLE + rb"(?:/>|>\s*(?:" + FORMULA + NUMBER + rb"\s*)?</c>)"
    rb'| t="str"' + STYLE + rb"(?:/>|>\s*" + FORMULA + rb'<v(?: xml:space="preserve")?(?:/>|>[^<]*</v>)\s*</c>)'
    rb'| t="inlineStr"' + STYLE + rb"(?:/>|>\s*<is>" + WORDS + rb"</is>\s*</c>)"
    rb'| t="b"' + STYLE + rb"(?:/>|>\s*" + FORMULA + rb"<v>[01]</v>\s*</c>)"
    rb")"
)
SURE_WORDS = re.compile(rb"<si(?:/>|>" + WORDS + rb"</si>)")
ESCAPE = re.compile(rb"_x[0-9A-Fa-f]{4}_")  # of which calamine takes some for what they stand for, and some not
ANY_NAME = rb"(?:[A-Za-z_][\w.-]*:)?"
SHARED = re.compile(rb"<" + ANY_NAME + rb"sst[\s/>]")
CELL = re.compile(rb"<c[\s/>]")
VALUE = re.compile(rb"<(?:\w+:)?v(?:\s[^<>]*)?>[^<]")
ITEM = re.compile(rb"<si[\s/>]")
OTHER_NAME = re.compile(rb":(?:c|si)[\s/>]")
PREFIX = re.compile(rb"\s*(?:<\?xml[^>]*\?>)?\s*<([A-Za-z_][\w.-]*):(?:worksheet|sst)[\s>]")


def is_sure(parts: Iterable[bytes]) -> bool:
    """Whether all of these parts are plain, and every cell and text in them has a sure form."""
    return all(is_plain_xml(part) and _is_part_sure(part) for part in parts)


def count_cells(parts: Iterable[bytes]) -> int:
    """Cell elements in the sheets among these parts; other parts have elements named alike (the calculation chain)."""
    sheets = [_without_prefix(part) for part in parts if b"sheetData" in part]
    return sum(len(CELL.findall(sheet)) for sheet in sheets)


def count_values(parts: Iterable[bytes]) -> int:
    """Cells in the sheets among these parts that store a value beside their place (texts within the cell apart)."""
    return sum(len(VALUE.findall(part)) for part in parts if b"sheetData" in part)


def _without_prefix(part: bytes) -> bytes:
    """A part whose elements are all named `x:c` and the like, with plain names."""
    prefix = PREFIX.match(part)
    if not prefix:
        return part
    return part.replace(b"<" + prefix[1] + b":", b"<").replace(b"</" + prefix[1] + b":", b"</")


def _is_part_sure(part: bytes) -> bool:
    is_sheet = b"sheetData" in part
    if not is_sheet and not SHARED.search(part[:1000]):
        return True
    part = _without_prefix(part)
    if OTHER_NAME.search(part) or ESCAPE.search(part):
        return False
    if not is_sheet:
        return len(SURE_WORDS.findall(part)) == len(ITEM.findall(part))
    if part.count(b"sheetData") > 2:  # its start and its end: calamine reads the first and passes over another
        return False
    places = SURE_CELL.findall(part)
    return len(places) == len(CELL.findall(part)) and (not places or _are_near(places, part))


def _are_near(places: list[bytes], part: bytes) -> bool:
    """Whether the cells stand close enough to be laid out whole, each in a place of its own."""
    named = set(places)
    if named == {b""}:  # cells without a place follow one another
        rows = part.split(b"<row")
        return len(rows) * max(len(CELL.findall(row)) for row in rows) <= SPARE_CELLS + 4 * len(places)
    if len(named) != len(places) or b"" in named:
        return False
    joined = b" ".join(places)  # a million places at once, in place of one by one
    columns, numbers = set(joined.translate(None, DIGITS).split()), set(joined.translate(None, LETTERS).split())
    return max(map(_column_number, columns)) * max(map(int, numbers)) <= SPARE_CELLS + 4 * len(places)


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number
