"""A table on a sheet of a workbook: headers with units and meanings, totals, filter, bars, print set-up.

Comes in: an XlsxWriter workbook, columns and rows. Goes out: the sheet filled in. Text is only ever text.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Protocol

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.measures import Measure
from pipelines.reports.week import Row, instant

INK, BLUE, ORANGE, PALE, GREY, LINE = "#1B2A41", "#0072B2", "#D55E00", "#EAF2F8", "#5C6B7A", "#C9D3DC"
LACKING = ("cover", "cover_if_apart")  # never netted over troops
FIRST = 4  # the row of the headers, counted from 0: title, what and when, a blank, totals above
WIDTHS = {"money": 13, "code": 10, "date": 12, "yes or no": 11}
HEADER = {"text_wrap": True, "valign": "bottom", "bg_color": PALE, "bottom": 2, "bottom_color": BLUE, "bold": True}
LETTER, A4 = 1, 9  # paper sizes as a workbook numbers them


@dataclass(frozen=True, slots=True)
class Column:
    """One column: the measure, whose name is that in its row, and how it is shown."""

    measure: Measure
    is_summed: bool = False
    width: int = 0
    wraps: bool = False
    read: Callable[[Row], Any] | None = None  # where the value is not simply that of its name

    def value(self, row: Row) -> Any:
        return self.read(row) if self.read else row[self.measure.name]


class Titled(Protocol):
    """What a workbook says on top of each sheet, and how it writes amounts: of a Week, or of a region's."""

    @property
    def known_on(self) -> datetime | None: ...
    @property
    def season_title(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def paper(self) -> str: ...
    @property
    def sign(self) -> str: ...
    def money(self, amount: Decimal) -> str: ...


class Pen:
    """The formats of one workbook and the writing of single cells."""

    def __init__(self, workbook: Workbook, week: Titled) -> None:
        self.workbook, self.week = workbook, week
        sign = week.sign.replace('"', "")
        digits = "#,##0.00" if week.money(Decimal(1)).endswith(".00") else "#,##0"
        base: dict[str, Any] = {"font_name": "Calibri", "font_size": 11, "font_color": INK, "valign": "top"}
        shown = {
            "money": f'"{sign}"{digits};"-{sign}"{digits}',
            "rate": f'"{sign}"0.00##',
            "share": "0.0%",
            "average": "0.0",
            "weeks": "0.0",
            "date": "d mmm yyyy",
            "packages": "#,##0",
            "participants": "#,##0",
            "days": "0",
        }
        self.formats: dict[str, Format] = {"text": workbook.add_format(base)}
        for unit, number in shown.items():
            self.formats[unit] = workbook.add_format({**base, "num_format": number, "align": "right"})
            total = {**base, "num_format": number, "align": "right", "bold": True, "bottom": 1, "bottom_color": LINE}
            self.formats[f"{unit} total"] = workbook.add_format(total)
        extra: dict[str, dict[str, Any]] = {
            "title": {"bold": True, "font_size": 18},
            "under": {"font_color": GREY},
            "yes or no": {"indent": 1},
            "aside": {"font_color": GREY, "indent": 1},
            "heading right": {"bold": True, "font_size": 13, "bottom": 2, "bottom_color": BLUE, "align": "right"},
            "heading": {"bold": True, "font_size": 13, "bottom": 2, "bottom_color": BLUE},
            "lead": {"font_size": 13, "text_wrap": True},
            "wrap": {"text_wrap": True, "indent": 1},
            "strong": {"bold": True},
            "header": HEADER,
            "unit": {"font_size": 9, "font_color": GREY},
            "total": {"bold": True, "bottom": 1, "bottom_color": LINE},
        }  # fmt: skip
        for name, of in extra.items():
            self.formats[name] = workbook.add_format({**base, **of})
        self.formats["header right"] = workbook.add_format({**base, **HEADER, "align": "right"})

    def put(self, sheet: Worksheet, row: int, column: int, value: object, unit: str = "text") -> None:
        """One cell: nothing for None, text as text whatever it begins with, numbers and days as what they are."""
        shown = self.formats.get(unit, self.formats["text"])
        match value:
            case None:
                sheet.write_blank(row, column, None, shown)
            case bool():
                sheet.write_string(row, column, "yes" if value else "no", shown)
            case int() if unit == "weeks":
                sheet.write_number(row, column, value, self.formats["packages"])
            case int() | float() | Decimal():
                sheet.write_number(row, column, value, shown)
            case date():
                sheet.write_datetime(row, column, datetime.combine(value, time()), shown)
            case _:
                sheet.write_string(row, column, str(value), shown)

    def head(self, sheet: Worksheet, title: str) -> None:
        """The two lines on top of each sheet."""
        week = self.week
        sheet.set_row(0, 26)
        self.put(sheet, 0, 0, title, "title")
        known = f" Known on {instant(week.known_on)}." if week.known_on else ""
        self.put(sheet, 1, 0, f"{week.season_title}: {week.name}.{known}", "under")


def unit_shown(unit: str, sign: str) -> str:
    """A unit as a header shows it."""
    return {"money": sign.strip(), "rate": f"{sign.strip()} a package", "share": "%", "average": "packages each",
            "code": "", "date": "", "yes or no": ""}.get(unit, unit)  # fmt: skip


def table(
    pen: Pen, sheet: Worksheet, title: str, columns: Sequence[Column], rows: Sequence[Row], keep: int = 1
) -> None:
    """Fills a sheet with one table; `keep` columns stay in view when one scrolls to the right."""
    pen.head(sheet, title)
    last = FIRST + max(len(rows), 1)
    for place, column in enumerate(columns):
        _header(pen, sheet, place, column)
        for number, row in enumerate(rows, FIRST + 1):
            pen.put(sheet, number, place, column.value(row), "wrap" if column.wraps else column.measure.unit)
    for number, row in enumerate(rows, FIRST + 1):
        lines = max((-(-len(str(c.value(row))) // (c.width - 2)) for c in columns if c.wraps), default=1)
        if lines > 1:
            sheet.set_row(number, 15 * lines)  # not every program fits the height to the text by itself
    for place, column in enumerate(columns):
        if column.is_summed:
            _total(pen, sheet, place, column, rows, last)
        if column.measure.has_bar:
            _bar(sheet, place, column, last)
    if rows:
        pen.put(sheet, FIRST - 1, 0, "All shown", "total")
    sheet.set_row(FIRST, 62)
    sheet.freeze_panes(FIRST + 1, keep)
    sheet.autofilter(FIRST, 0, last, len(columns) - 1)
    sheet.ignore_errors({"number_stored_as_text": f"A1:{xl_rowcol_to_cell(last, 1)}"})  # 0417 is a code
    print_set_up(pen, sheet)
    sheet.repeat_rows(FIRST)
    sheet.print_area(0, 0, last, len(columns) - 1)


def print_set_up(pen: Pen, sheet: Worksheet, *, landscape: bool = True) -> None:
    """On paper: the whole width on a page, pages numbered."""
    if landscape:
        sheet.set_landscape()
    sheet.set_paper(LETTER if pen.week.paper == "us-letter" else A4)
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    named = pen.week.season_title.replace("&", "&&")[:120]
    sheet.set_footer(f"&L&8{named}, {pen.week.name}&R&8&A, page &P of &N")
    sheet.hide_gridlines(2)


def _header(pen: Pen, sheet: Worksheet, place: int, column: Column) -> None:
    measure, unit = column.measure, unit_shown(column.measure.unit, pen.week.sign)
    is_text = measure.unit in ("code", "yes or no")
    shown = pen.formats["header" if is_text else "header right"]
    if unit:
        sheet.write_rich_string(
            FIRST, place, pen.formats["strong"], measure.label, pen.formats["unit"], f"\n{unit}", shown
        )
    else:
        sheet.write_string(FIRST, place, measure.label, shown)
    divided = f" Divided by: {measure.divides_by}." if measure.divides_by else ""
    sheet.write_comment(FIRST, place, measure.meaning + divided, {"x_scale": 2, "y_scale": 1.2, "author": "Musterbook"})
    longest = max(len(word) for word in measure.label.split())
    sheet.set_column(place, place, column.width or max(WIDTHS.get(measure.unit, 10), longest + 4))


def _total(pen: Pen, sheet: Worksheet, place: int, column: Column, rows: Sequence[Row], last: int) -> None:
    """The sum of the rows that the filter shows; a spreadsheet works it out again when the filter changes."""
    if column.measure.name in LACKING:
        _lacking(pen, sheet, place, column, rows, last)
        return
    values = [column.value(row) for row in rows]
    total = sum((value for value in values if value is not None), Decimal(0))
    first, end = xl_rowcol_to_cell(FIRST + 1, place), xl_rowcol_to_cell(last, place)
    shown = pen.formats[f"{column.measure.unit} total"]
    sheet.write_formula(FIRST - 1, place, f"=SUBTOTAL(109,{first}:{end})", shown, float(total))


def _bar(sheet: Worksheet, place: int, column: Column, last: int) -> None:
    limits = (
        {"min_type": "num", "min_value": 0, "max_type": "num", "max_value": 1} if column.measure.unit == "share" else {}
    )
    sheet.conditional_format(
        FIRST + 1, place, last, place,
        {"type": "data_bar", "bar_color": "#9CC7E4", "bar_negative_color": "#F2B48A", "bar_solid": True,
         "data_bar_2010": True, **limits},
    )  # fmt: skip


def _lacking(pen: Pen, sheet: Worksheet, place: int, column: Column, rows: Sequence[Row], last: int) -> None:
    """How many troops lack something and how much together; what one has over covers nothing for another."""
    below = [value for value in (column.value(row) for row in rows) if value is not None and value < 0]
    cells = f"{xl_rowcol_to_cell(FIRST + 1, place)}:{xl_rowcol_to_cell(last, place)}"
    sign = pen.week.sign.replace('"', "")
    formula = (
        f'=COUNTIF({cells},"<0")&IF(COUNTIF({cells},"<0")=1," troop, "," troops, ")'
        f'&TEXT(-SUMIF({cells},"<0"),"{sign}#,##0.00")&" lacking"'
    )
    troops = f"{len(below)} troop{'' if len(below) == 1 else 's'}"
    said = f"{troops}, {pen.week.money(-sum(below, Decimal(0)))} lacking"
    sheet.write_formula(FIRST - 1, place, formula, pen.formats["total"], said)
