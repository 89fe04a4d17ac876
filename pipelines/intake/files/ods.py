"""An OpenDocument spreadsheet → its cells (OpenDocument 1.3 part 3, 9.1 and 19.385).

Comes in: the file's parts. Goes out: Contents. Read here cell by cell, since python-calamine takes a cell that shows
`Err:502` for 0, drops other error cells, shows values hidden under merged cells, and leaves out tabs and line breaks.
What a person sees otherwise than it is stored (shown.py) is told by the file's own styles and by the text that stands
beside each number; styles that have a name of their own, which content.xml does not hold, are not looked at.
"""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from xml.parsers import expat

from pipelines.definitions.limits import BULK, MOST_LAID_OUT, Limits
from pipelines.intake.files.archive import Parts, damaged, locked
from pipelines.intake.files.cells import Sparse, span, too_far_apart
from pipelines.intake.files.shown import as_seen, marked, unit_beside
from pipelines.intake.files.wire import Cells, Contents, unreadable

OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0 "
TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0 "
TEXT = "urn:oasis:names:tc:opendocument:xmlns:text:1.0 "
STYLE = "urn:oasis:names:tc:opendocument:xmlns:style:1.0 "
CALC = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 "
PASSED_OVER = {OFFICE + "annotation", TABLE + "tracked-changes", TABLE + "shapes", TEXT + "note"}
DRAWN = "urn:oasis:names:tc:opendocument:xmlns:drawing:1.0 "
MOST_COLUMNS = 16_384
ERROR = re.compile(r"#(REF|N/A|VALUE|NAME|DIV/0|NUM|NULL)[!?]?|Err:[0-9]+")
DURATION = re.compile(r"(-)?PT(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+)(?:[.,]([0-9]+))?S)?")
NUMBER = re.compile(r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]{1,2})?")
# In a paragraph, white space of the XML is one space; what stands for itself is told by elements, marked so meanwhile.
SPACE, TAB, BREAK = "\x00", "\x01", "\x02"
SHOWN = str.maketrans({SPACE: " ", TAB: "\t", BREAK: "\n"})
Attributes = dict[str, str]


def read_ods(parts: Parts, limits: Limits = BULK) -> Contents:
    """The cells of an .ods file; raises Unreadable."""
    if b"encryption-data" in parts.read_start("META-INF/manifest.xml", 1_000_000):
        raise locked()
    if "content.xml" not in parts.names:
        raise damaged("its part content.xml is missing")
    size = parts.size(["content.xml"])
    if size > limits.unpacked_bytes:  # an empty row costs as many bytes as a filled one
        most = f"at most {limits.unpacked_bytes / 1e6:,.0f} MB"
        how = "Delete what is not needed, or save each sheet as CSV, and send that."
        raise unreadable(f"a workbook of {size / 1e6:,.0f} MB once unpacked", most, how)
    reading = _Reading()
    try:
        reading.parser.Parse(parts.read("content.xml"), True)
    except expat.ExpatError as error:
        raise damaged(f"content.xml breaks off or is altered in line {error.lineno}") from None
    if not reading.sheets:
        raise unreadable("a workbook without a sheet of cells", "at least one sheet with cells", "Send one with cells.")
    return Contents(reading.sheets, [], saved=parts.saved("meta.xml", b"dc:date"))


class _Reading:
    """What has been read so far; expat calls on_start, on_end and on_text."""

    def __init__(self) -> None:
        self.sheets: list[Cells] = []
        self._hidden_styles: set[str] = set()
        self._marks: dict[str, tuple[bool, bool]] = {}  # of styles: struck through, raised or lowered
        self._style = self._row_style = ""
        self._column_styles: list[str] = []
        self._spans: list[tuple[int, str]] = []  # open ones: where their text begins, their style
        self._has_marks = False
        self._sheet: Sparse | None = None
        self._row = self._column = self._filled = 0
        self._row_repeats = 1
        self._row_cells: list[tuple[int, int, object, tuple[str, str] | None]] = []
        self._cell: Attributes | None = None
        self._is_covered = False
        self._paragraphs: list[str] = []
        self._chunks: list[str] | None = None
        self._depth = self._cell_depth = self._skip_depth = self._nested = 0
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._on_start
        self.parser.EndElementHandler = self._on_end
        self.parser.CharacterDataHandler = self._on_text
        self.parser.StartDoctypeDeclHandler = self._refuse_doctype
        self._starts: dict[str, Callable[[Attributes], None]] = {
            STYLE + "style": self._start_style,
            STYLE + "table-properties": self._start_properties,
            STYLE + "text-properties": self._start_text_properties,
            TABLE + "table": self._start_table,
            TABLE + "table-column": self._start_column,
            TABLE + "table-row": self._start_row,
            TABLE + "table-cell": self._start_cell,
            TABLE + "covered-table-cell": self._start_covered,
            TEXT + "p": self._start_paragraph,
            TEXT + "span": self._start_span,
            TEXT + "s": lambda a: self._mark(SPACE * min(_repeats(a, TEXT + "c"), 100_000)),
            TEXT + "tab": lambda _: self._mark(TAB),
            TEXT + "line-break": lambda _: self._mark(BREAK),
        }
        self._ends: dict[str, Callable[[], None]] = {
            TABLE + "table": self._end_table,
            TABLE + "table-row": self._end_row,
            TABLE + "table-cell": self._end_cell,
            TABLE + "covered-table-cell": self._end_cell,
            TEXT + "p": self._end_paragraph,
            TEXT + "span": self._end_span,
        }

    def _on_start(self, name: str, attributes: Attributes) -> None:
        self._depth += 1
        if self._skip_depth:
            return
        if name in PASSED_OVER or name.startswith(DRAWN):
            self._skip_depth = self._depth
        elif start := self._starts.get(name):
            start(attributes)

    def _on_end(self, name: str) -> None:
        if self._skip_depth:
            if self._skip_depth == self._depth:
                self._skip_depth = 0
        elif end := self._ends.get(name):
            end()
        self._depth -= 1

    def _on_text(self, text: str) -> None:
        if self._chunks is not None and not self._skip_depth:
            self._chunks.append(text)

    def _refuse_doctype(self, *_: object) -> None:
        raise damaged("its XML declares a document type, which no spreadsheet program writes")

    def _start_style(self, attributes: Attributes) -> None:
        self._style = attributes.get(STYLE + "name", "")

    def _start_properties(self, attributes: Attributes) -> None:
        if attributes.get(TABLE + "display") == "false":
            self._hidden_styles.add(self._style)

    def _start_text_properties(self, attributes: Attributes) -> None:
        line = (attributes.get(STYLE + "text-line-through-" + of, "none") for of in ("style", "type"))
        height = attributes.get(STYLE + "text-position", "0%").split()[:1]
        marks = any(one != "none" for one in line), bool(height) and height[0] not in ("0%", "0")
        if any(marks):
            self._marks[self._style] = marks

    def _start_column(self, attributes: Attributes) -> None:
        room = MOST_COLUMNS - len(self._column_styles)
        many = min(_repeats(attributes, TABLE + "number-columns-repeated"), room)
        self._column_styles += [attributes.get(TABLE + "default-cell-style-name", "")] * many

    def _start_table(self, attributes: Attributes) -> None:
        self._nested += 1
        if self._nested == 1:
            is_hidden = attributes.get(TABLE + "style-name") in self._hidden_styles
            self._sheet = Sparse(attributes.get(TABLE + "name", ""), is_hidden=is_hidden)
            self._row = self._filled = 0
            self._column_styles = []
        else:
            self._skip_depth, self._nested = self._depth, 1  # a table within a cell: no spreadsheet program writes it

    def _end_table(self) -> None:
        self._nested -= 1
        if self._sheet is not None:
            self.sheets.append(self._sheet.laid_out())
            self._sheet = None

    def _start_row(self, attributes: Attributes) -> None:
        self._column = 0
        self._row_repeats = _repeats(attributes, TABLE + "number-rows-repeated")
        self._row_cells = []
        self._row_style = attributes.get(TABLE + "default-cell-style-name", "")

    def _end_row(self) -> None:
        if self._sheet is None:
            return
        self._filled += self._row_repeats * sum(repeats for _, repeats, _, _ in self._row_cells)
        if self._filled > MOST_LAID_OUT:  # each of them is stored, not only laid out
            raise too_far_apart(self._sheet.name)
        if self._row_cells:
            for row in range(self._row, self._row + self._row_repeats):
                self._put_row(self._sheet, row)
        self._row += self._row_repeats

    def _put_row(self, sheet: Sparse, row: int) -> None:
        for column, repeats, value, fault in self._row_cells:
            for k in range(column, column + repeats):
                if fault:
                    sheet.fault(row, k, *fault)
                else:
                    sheet.put(row, k, value)

    def _start_cell(self, attributes: Attributes) -> None:
        self._cell, self._is_covered = attributes, False
        self._cell_depth, self._paragraphs = self._depth, []
        self._has_marks = False

    def _start_covered(self, attributes: Attributes) -> None:
        self._start_cell(attributes)
        self._is_covered = True

    def _end_cell(self) -> None:
        if self._cell is None:
            return
        repeats = _repeats(self._cell, TABLE + "number-columns-repeated")
        if not self._is_covered:
            text = "\n".join(self._paragraphs)
            fault = fault_of(self._cell, text, has_text=bool(self._paragraphs))
            value = None if fault else self._seen(self._cell, text)
            if fault or (value is not None and value != ""):
                self._row_cells.append((self._column, repeats, value, fault))
        self._column += repeats
        self._cell = None

    def _seen(self, cell: Attributes, text: str) -> object:
        """A cell as a person sees it."""
        stored = text if self._has_marks else value_of(cell, text)
        unit = unit_beside(text) if isinstance(stored, float) else ("", "")
        of_column = self._column_styles[self._column] if self._column < len(self._column_styles) else ""
        is_struck, is_raised = self._marks.get(
            cell.get(TABLE + "style-name") or self._row_style or of_column, (False, False)
        )
        return as_seen(stored, unit, is_struck=is_struck and not self._has_marks, is_raised=is_raised)

    def _start_span(self, attributes: Attributes) -> None:
        self._spans.append((len(self._chunks or ()), attributes.get(TEXT + "style-name", "")))

    def _end_span(self) -> None:
        begins, style = self._spans.pop()
        if self._chunks is not None and style in self._marks:
            self._chunks[begins:] = [marked([("".join(self._chunks[begins:]), *self._marks[style])])]
            self._has_marks = True

    def _start_paragraph(self, _: Attributes) -> None:
        if self._cell is not None and self._depth == self._cell_depth + 1:
            self._chunks = []

    def _end_paragraph(self) -> None:
        if self._chunks is not None:
            self._paragraphs.append(re.sub("[ \t\r\n]+", " ", "".join(self._chunks)).strip(" ").translate(SHOWN))
            self._chunks = None

    def _mark(self, mark: str) -> None:
        if self._chunks is not None:
            self._chunks.append(mark)


def _repeats(attributes: Attributes, name: str) -> int:
    text = attributes.get(name, "1")
    return max(1, int(text)) if text.isascii() and text.isdigit() and len(text) < 9 else 1


def fault_of(cell: Attributes, text: str, *, has_text: bool) -> tuple[str, str] | None:
    """What an error cell shows, or the formula that stores no value; None where the cell is sound.

    A formula whose value is the empty text is saved by Calc without a value type, but with an empty paragraph.
    """
    formula = cell.get(TABLE + "formula")
    if cell.get(CALC + "value-type") == "error" or (formula is not None and ERROR.fullmatch(text)):
        return text or "an error", "error"
    if formula is not None and OFFICE + "value-type" not in cell and not has_text:
        bare = formula.partition(":")[2] or formula  # without the `of:` that says which language it is
        return re.sub(r"\[\.?([^\]]*)\]", lambda found: found[1].replace(":.", ":"), bare), "no value"
    return None


def value_of(cell: Attributes, text: str) -> object:
    """What a cell stores, by its value type; a cell without one holds its text."""
    kind = cell.get(OFFICE + "value-type", "")
    if kind in ("float", "percentage", "currency"):
        stored = cell.get(OFFICE + "value", "")
        return float(stored) if NUMBER.fullmatch(stored) else stored or text
    if kind == "boolean":
        return cell.get(OFFICE + "boolean-value") == "true"
    if kind == "date":
        return _day(cell.get(OFFICE + "date-value", ""))
    if kind == "time":
        return _clock(cell.get(OFFICE + "time-value", ""))
    return cell.get(OFFICE + "string-value", text)


def _day(stored: str) -> date | datetime | str:
    try:
        if len(stored) == 10:
            return date.fromisoformat(stored)
        moment = datetime.fromisoformat(stored).replace(tzinfo=None)
    except ValueError:
        return stored
    return moment if moment.time() != datetime.min.time() else moment.date()


def _clock(stored: str) -> object:
    found = DURATION.fullmatch(stored)
    if not found:
        return stored
    sign, hours, minutes, seconds, fraction = found.groups()
    micros = int((fraction or "")[:6].ljust(6, "0"))
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds or 0)
    try:
        length = timedelta(seconds=whole, microseconds=micros)
    except OverflowError:
        return stored
    return span(-length if sign else length)
