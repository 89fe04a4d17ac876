"""How a form is drawn: cells to fill in, cells for help, checks that answer in the sheet.

Comes in: an XlsxWriter workbook and the currency's sign. Goes out: formats and checked cells. Cells to fill in are
open and white, everything else is locked and grey; only what common spreadsheet programs share is used.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

INK, BLUE, GREY, PALE, LINE, HELP = "#1B2A41", "#0072B2", "#5C6B7A", "#EAF2F8", "#C9D3DC", "#F3F5F7"
LISTS = "Lists"  # the hidden sheet that drop-downs read
MOST = 100_000


class FormPen:
    """The formats of one form, its drop-down lists, and its checks."""

    def __init__(self, workbook: Workbook, sign: str) -> None:
        self.workbook = workbook
        money = '"{0}"#,##0.00;-"{0}"#,##0.00'.format(sign.replace('"', ""))
        base: dict[str, Any] = {"font_name": "Calibri", "font_size": 11, "font_color": INK, "valign": "vcenter"}
        fill_in = {**base, "locked": False, "border": 1, "border_color": LINE}
        helping = {**base, "bg_color": HELP, "border": 1, "border_color": LINE, "font_color": GREY}
        hint = {**base, "font_color": GREY, "text_wrap": True}
        fixed = {**base, "bold": True, "border": 1, "border_color": LINE}
        looks = {
            "plain": base,
            "title": {**base, "bold": True, "font_size": 16},
            "label": {**base, "bold": True},
            "header": {**base, "bold": True, "bg_color": PALE, "bottom": 2, "bottom_color": BLUE, "text_wrap": True},
            "above": {**hint, "font_size": 9, "align": "center", "valign": "bottom"},
            "help header": {**helping, "bold": True, "text_wrap": True, "bottom": 2, "valign": "bottom"},
            "text": {**fill_in, "num_format": "@"},
            "number": {**fill_in, "num_format": "#,##0"},
            "money": {**fill_in, "num_format": money},
            "date": {**fill_in, "num_format": "yyyy-mm-dd", "align": "left"},
            "time": {**fill_in, "num_format": "hh:mm", "align": "left"},
            "fixed": {**fixed, "num_format": "@"},
            "fixed date": {**fixed, "num_format": "yyyy-mm-dd", "align": "left"},
            "help": helping,
            "help number": {**helping, "num_format": "#,##0"},
            "help money": {**helping, "num_format": f"{money};"},  # nothing is shown for 0
            "help total": {**helping, "num_format": money},
        }  # fmt: skip
        self.formats: dict[str, Format] = {name: workbook.add_format(look) for name, look in looks.items()}
        self.stands_out = workbook.add_format({"bold": True, "font_color": "#B84A00"})
        self._lists: Worksheet | None = None
        self._listed: dict[str, str] = {}

    def put(self, sheet: Worksheet, row: int, column: int, value: object, look: str) -> None:
        """One cell: text as text whatever it begins with, numbers and days as they are, an empty one formatted."""
        shown = self.formats[look]
        match value:
            case None | "":
                sheet.write_blank(row, column, None, shown)
            case int() | float() | Decimal():
                sheet.write_number(row, column, value, shown)
            case date():
                sheet.write_datetime(row, column, datetime.combine(value, time()), shown)
            case _:
                sheet.write_string(row, column, str(value), shown)

    def headers(self, sheet: Worksheet, row: int, names: Sequence[str], above: Sequence[str] = ()) -> None:
        """The contract's headers, and above each what goes with it."""
        for place, name in enumerate(names):
            self.put(sheet, row, place, name, "header")
            if place < len(above) and above[place]:
                self.put(sheet, row - 1, place, above[place], "above")

    def help_headers(self, sheet: Worksheet, row: int, first: int, names: Iterable[str]) -> None:
        """Headers of columns that help, in grey; nothing below them is ever counted."""
        for place, name in enumerate(names, first):
            self.put(sheet, row, place, name, "help header")

    def lists(self, name: str, values: Sequence[str]) -> str:
        """A drop-down's values on the hidden sheet; returns the range to name in a check."""
        if self._lists is None:
            self._lists = self.workbook.add_worksheet(LISTS)
            self._lists.hide()
        if name not in self._listed:
            place = len(self._listed)
            for row, value in enumerate(values):
                self._lists.write_string(row, place, value)
            column = xl_col_to_name(place)
            self._listed[name] = f"={LISTS}!${column}$1:${column}${max(len(values), 1)}"
        return self._listed[name]


Span = tuple[int, int, int, int]  # first row, first column, last row, last column


def check_list(sheet: Worksheet, span: Span, source: str, said: str) -> None:
    """Only what the drop-down offers; something else is asked about, not refused."""
    _check(sheet, span, {"validate": "list", "source": source}, "Not in the list", said, "warning")


def check_packages(sheet: Worksheet, span: Span, lowest: int = 0, said: str = "") -> None:
    """Whole packages."""
    rule = {"validate": "integer", "criteria": "between", "minimum": lowest, "maximum": MOST}
    _check(sheet, span, rule, "Whole packages", said or "Type a whole number of packages, such as 12.", "stop")


def check_count(sheet: Worksheet, span: Span, cell: str, most: str, said: str) -> None:
    """Whole packages up to what a cell says, or cases and loose ones (2c+3); more is asked about."""
    number = f"AND(ISNUMBER({cell}),{cell}>=0,{cell}=INT({cell}),{cell}<={most})"
    rule = {"validate": "custom", "value": f'=OR({number},ISNUMBER(FIND("c",LOWER({cell}))))'}
    _check(sheet, span, rule, "Please look again", said, "warning")


def check_money(sheet: Worksheet, span: Span) -> None:
    """An amount; a negative one is asked about, since it needs a note."""
    rule = {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 10_000_000}
    said = (
        "Type the amount in digits, such as 12.50. A negative amount (a refund, a cheque that came back) needs a note."
    )
    _check(sheet, span, rule, "An amount", said, "warning")


def check_day(sheet: Worksheet, span: Span, first: date, last: date) -> None:
    """A day of the week reported, or before it."""
    rule = {
        "validate": "date", "criteria": "between",
        "minimum": datetime.combine(first, time()), "maximum": datetime.combine(last, time()),
    }  # fmt: skip
    said = f"Type a day from {first.isoformat()} to {last.isoformat()}, as year-month-day."
    _check(sheet, span, rule, "Another week's day", said, "stop")


def _check(sheet: Worksheet, span: Span, rule: dict[str, Any], title: str, said: str, kind: str) -> None:
    told = {"error_title": title, "error_message": said[:255], "error_type": kind, "ignore_blank": True}
    sheet.data_validation(*span, {**rule, **told})
