"""A copy of somebody's own workbook with each finding as a note on its cell, the cell coloured, and a list in front.

Comes in: the cells that the guarded reader read, and what was found in them. Goes out: an .xlsx workbook's bytes, the
same each time. The copy is written from the values alone, never from the file: formulas, macros, links to other files
and pictures stay behind. What cannot be written on a cell stands on the first sheet, which lists everything.

Text is text whatever it begins with; an error cell and a formula without a value are written as errors, so that they
are refused again: empty they would count as nothing. Of more than 200,000 cells the list alone is written. The sheet in
front is passed over when the copy comes back.
"""

import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Literal

from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.columns import fold
from pipelines.definitions.form_columns import TO_MEND
from pipelines.definitions.records import CellFault, Finding, Sheet
from pipelines.messages.finding_lines import CELL, Line, Question, column_number, lines

Kind = Literal["mend", "ask", "know"]
SAID: dict[Kind, str] = {"mend": "To mend", "ask": "A question", "know": "To know"}
FILL: dict[Kind, str] = {"mend": "#FFD8C2", "ask": "#FFF0B8", "know": "#D6EAF7"}  # ink on them: 12:1 and more
INK, BLUE = "#1B2A41", "#0072B2"
MOST_CELLS = 200_000  # more is no troop's workbook: then the list alone
MOST_NOTES = 2_000  # notes on cells that spreadsheet programs still open quickly; the list has them all
MOST_TEXT = 32_000  # characters that a cell can hold, and some to spare
ROWS, COLUMNS = 1_048_576, 16_384
WIDTHS = (11, 24, 26, 32, 62)
MADE = datetime(2000, 1, 1)  # noqa: DTZ001 - no time at all, so that the same file gives the same copy
ERRORS = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")
WHAT_IT_IS = (
    "This is a copy of {name}, written from the values that were read in it. Formulas, macros, pictures and links to "
    "other files are not in it, nor the file's own colours."
)
WHAT_TO_DO = (
    "Mend the coloured cells, here or in your own workbook, and send the whole workbook again. Each coloured cell has "
    "a note that says what is expected. Nothing is lost meanwhile."
)
NO_SHEETS = "The sheets of {name} could not be copied: {why}. What is to mend is listed here."


def marked_up(
    name: str, sheets: Sequence[Sheet], findings: Sequence[Finding], questions: Sequence[Question] = ()
) -> bytes:
    """The copy's bytes. `name`: what the file is called; `sheets`: its cells as they were read, [] if they were not."""
    sheets = [sheet for sheet in sheets if fold(sheet.name) != fold(TO_MEND)]  # a copy that came back
    out = io.BytesIO()
    safe = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    workbook = Workbook(out, safe)
    workbook.set_properties({"title": cut(f"To mend: {name}", 200), "author": "Musterbook", "created": MADE})
    pen = _Pen(workbook)
    marks = _marks(findings, questions)
    is_copied = bool(sheets) and sum(_size(sheet) for sheet in sheets) <= MOST_CELLS
    front = workbook.add_worksheet(TO_MEND)
    titles = _titles(sheets) if is_copied else {}
    why = "" if is_copied else "they hold too many cells" if sheets else "the file could not be read"
    _list(pen, front, name, list(_listed(lines(findings), questions)), titles, why)
    notes = 0
    for sheet in sheets if is_copied else ():
        own = {place: said for (of, place), said in marks.items() if of == sheet.name}
        page = workbook.add_worksheet(titles[sheet.name])
        if sheet.is_hidden:
            page.hide()
        notes += _copy(pen, page, sheet, own, MOST_NOTES - notes)
    workbook.close()
    return out.getvalue()


class _Pen:
    """The formats of one copy, each made once."""

    def __init__(self, workbook: Workbook) -> None:
        self._workbook = workbook
        self._made: dict[tuple[tuple[str, object], ...], Format] = {}

    def look(self, **asked: object) -> Format:
        key = tuple(sorted(asked.items()))
        if key not in self._made:
            base = {"font_name": "Calibri", "font_size": 11, "font_color": INK, "valign": "top"}
            self._made[key] = self._workbook.add_format(base | asked)
        return self._made[key]


def _marks(findings: Iterable[Finding], questions: Iterable[Question]) -> dict[tuple[str, str], list[tuple[Kind, str]]]:
    """What is said of each cell, by sheet and cell: what is to mend first."""
    marks: dict[tuple[str, str], list[tuple[Kind, str]]] = {}
    for one in sorted(findings, key=lambda one: one.is_note):
        (line,) = lines([one])
        marks.setdefault((one.sheet, one.cell), []).append(("know" if one.is_note else "mend", line.sentence()))
    for question in questions:
        for place in dict.fromkeys(question.places):
            marks.setdefault(place, []).append(("ask", question.asked))
    return {place: sorted(said, key=lambda pair: pair[0] != "mend") for place, said in marks.items()}


def _listed(told: Iterable[Line], questions: Iterable[Question]) -> Iterator[tuple[Kind, str, str, Line | Question]]:
    """The rows of the list: kind, sheet, first cell, and the line or the question."""
    for line in told:
        yield "know" if line.is_note else "mend", line.sheet, line.cells[0] if line.cells else "", line
    for question in questions:
        sheet, cell = question.places[0] if question.places else ("", "")
        yield "ask", sheet, cell, question


def _list(
    pen: _Pen,
    sheet: Worksheet,
    name: str,
    listed: Sequence[tuple[Kind, str, str, Line | Question]],
    titles: Mapping[str, str],
    why: str,
) -> None:
    """The first sheet: what this is, and everything that was found, each with a link to its cell."""
    for column, width in enumerate(WIDTHS):
        sheet.set_column(column, column, width)
    wrapped = pen.look(text_wrap=True)
    sheet.write_string(0, 0, cut(f"To mend in {name}", 200), pen.look(bold=True, font_size=16))
    sheet.set_row(0, 26)
    told = NO_SHEETS.format(name=name, why=why) if why else WHAT_IT_IS.format(name=name)
    for row, said in enumerate((told, WHAT_TO_DO), 1):
        sheet.merge_range(row, 0, row, len(WIDTHS) - 1, cut(said, 2000), wrapped)
        sheet.set_row(row, 32)
    head = pen.look(bold=True, bottom=2, bottom_color=BLUE, text_wrap=True)
    for column, title in enumerate(("What", "Where", "Found", "Expected", "What to do")):
        sheet.write_string(4, column, title, head)
    for row, (kind, of, cell, line) in enumerate(listed, 5):
        sheet.write_string(row, 0, SAID[kind], pen.look(bg_color=FILL[kind], bold=True))
        where = line.where or "the whole file"
        _link(sheet, row, where, titles.get(of), cell, pen)
        texts = (line.found, line.expected, line.how) if isinstance(line, Line) else ("", "", line.asked)
        for column, text in enumerate(texts, 2):
            sheet.write_string(row, column, cut(text, 2000), pen.look(text_wrap=True, num_format="@"))
        sheet.set_row(row, 15.5 * max(_rows_of(text, WIDTHS[k]) for k, text in enumerate((where, *texts), 1)))
    sheet.freeze_panes(5, 0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.hide_gridlines(2)
    sheet.repeat_rows(4)


def _rows_of(text: str, width: int) -> int:
    return max(1, min(12, -(-len(text) * 11 // (width * 10))))


def _link(sheet: Worksheet, row: int, where: str, title: str | None, cell: str, pen: _Pen) -> None:
    """Where something stands; a link to its cell where the copy has it."""
    if title is None or not CELL.fullmatch(cell):
        sheet.write_string(row, 1, cut(where, 200), pen.look(text_wrap=True))
        return
    quoted = title.replace("'", "''")
    look = pen.look(text_wrap=True, font_color=BLUE, underline=1)
    sheet.write_url(row, 1, f"internal:'{quoted}'!{cell}", look, cut(where, 200))


def _titles(sheets: Sequence[Sheet]) -> dict[str, str]:
    """A name for each sheet's copy: its own, as far as a workbook allows it."""
    titles: dict[str, str] = {}
    taken = {TO_MEND.casefold(), "history"}
    for sheet in sheets:
        plain = "".join("_" if mark in "[]:*?/\\" or not mark.isprintable() else mark for mark in sheet.name)
        base = (plain.strip("' ") or "Table")[:31]
        title, number = base, 1
        while title.casefold() in taken:
            number += 1
            title = f"{base[:26]} ({number})"
        taken.add(title.casefold())
        titles.setdefault(sheet.name, title)
    return titles


def _size(sheet: Sheet) -> int:
    if sheet.table is not None:
        return int(sheet.table.num_rows * sheet.table.num_columns)
    return sum(cell is not None for row in sheet.rows or () for cell in row)


def _rows(sheet: Sheet) -> Iterator[tuple[int, Sequence[object]]]:
    """A sheet's rows, each with its place counted from 0."""
    if sheet.table is None:
        yield from enumerate(sheet.rows or ())
        return
    columns = [column.to_pylist() for column in sheet.table.columns]
    if sheet.has_names:
        yield 0, sheet.table.column_names
    first = 1 if sheet.has_names else 0
    numbers = sheet.row_numbers.to_pylist() if sheet.row_numbers is not None else None
    for place, row in enumerate(zip(*columns, strict=True)):
        yield (numbers[place] - 1 if numbers else place + first), row


def _copy(pen: _Pen, sheet: Worksheet, source: Sheet, marks: Mapping[str, list[tuple[Kind, str]]], room: int) -> int:
    """One sheet copied cell by cell; returns how many notes it took, at most `room`."""
    marked = {
        (int(found[2]) - 1, column_number(found[1])): said
        for place, said in marks.items()
        if (found := CELL.fullmatch(place))
    }
    widths: dict[int, int] = {}
    filled: list[int] = []
    empty_marks = set(marked)
    for row, cells in _rows(source):
        if row >= ROWS:
            break
        for column, cell in enumerate(cells[:COLUMNS]):
            if cell is None or cell == "":
                continue
            if not filled or filled[-1] != row:
                filled.append(row)
            said = marked.get((row, column))
            is_head = column == 0 if fold(source.name) == "cover" else len(filled) == 1
            _put(sheet, row, column, cell, pen, said[0][0] if said else None, is_head=is_head)
            empty_marks.discard((row, column))
            widths[column] = max(widths.get(column, 0), min(len(str(cell)), 40))
    for row, column in empty_marks:
        if row < ROWS and column < COLUMNS:
            sheet.write_blank(row, column, None, pen.look(bg_color=FILL[marked[row, column][0][0]], border=1))
    for column, width in widths.items():
        sheet.set_column(column, column, max(9, width + 2))
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    notes = 0
    for (row, column), said in sorted(marked.items()):
        if notes < room and row < ROWS and column < COLUMNS:
            _note(sheet, row, column, said)
            notes += 1
    if filled and fold(source.name) != "cover":
        sheet.freeze_panes(filled[0] + 1, 1)
    return notes


def _note(sheet: Worksheet, row: int, column: int, said: Sequence[tuple[Kind, str]]) -> None:
    text = cut("\n".join(f"{SAID[kind]}: {sentence}" for kind, sentence in said), 4000)
    look = {"author": "Musterbook", "font_name": "Calibri", "font_size": 10, "color": "#FFFFFF", "width": 300}
    sheet.write_comment(row, column, text, look | {"height": 24 + 17 * _rows_of(text, 46)})


def _put(sheet: Worksheet, row: int, column: int, cell: object, pen: _Pen, kind: Kind | None, *, is_head: bool) -> None:
    """One cell as a plain value; text is text whatever it begins with, an error stays one and is refused again."""
    look: dict[str, Any] = {"bg_color": FILL[kind], "border": 1} if kind else {}
    look |= {"bold": True} if is_head else {}
    match cell:
        case CellFault():
            shown = cell.shown if cell.shown in ERRORS else "#N/A"
            sheet.write_formula(row, column, f"={shown}", pen.look(**look), shown)
        case bool():
            sheet.write_boolean(row, column, cell, pen.look(**look))
        case int() | float() | Decimal() if _is_exact(cell):
            amount = {"num_format": "0.00"} if cell != int(cell) and round(cell, 2) == cell else {}
            sheet.write_number(row, column, float(cell), pen.look(**look, **amount))
        case datetime() | date() if cell.year >= 1901:
            has_time = isinstance(cell, datetime) and cell.time() != time()
            shape = "yyyy-mm-dd hh:mm" if has_time else "yyyy-mm-dd"
            sheet.write_datetime(row, column, cell, pen.look(**look, num_format=shape, align="left"))
        case time():
            sheet.write_datetime(row, column, cell, pen.look(**look, num_format="hh:mm", align="left"))
        case _:
            quoted = {"quote_prefix": True} if str(cell)[:1] in "=+-@\t\r" else {}
            sheet.write_string(row, column, cut(str(cell), MOST_TEXT), pen.look(**look, **quoted))


def _is_exact(number: int | float | Decimal) -> bool:
    """Whether a spreadsheet's number holds it; others are written as text, which is judged as it would be here."""
    return not (isinstance(number, Decimal) and not number.is_finite()) and -1e15 < number < 1e15


def cut(text: str, most: int) -> str:
    """Text that a cell can hold: what stands for no character is replaced, and it ends with … where it is too long."""
    plain = text.encode("utf-8", "replace").decode("utf-8")
    return plain if len(plain) <= most else plain[: most - 1] + "…"
