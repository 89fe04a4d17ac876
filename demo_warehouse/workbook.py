"""A troop's workbook as a volunteer fills it in: the sheets of the contract, each leader's habits, and real faults.

Comes in: a filing. Goes out: one .xlsx file. A sheet with nothing to report is left out; a habit is a matter of the
troop, so that its workbooks look alike.
"""

from collections.abc import Callable
from datetime import date, time
from pathlib import Path

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from demo_warehouse.papers import Filing
from demo_warehouse.season import ITEMS, dice
from demo_warehouse.tables import XLSX

ERROR = "#REF!"
SEPARATORS = (" ", ", ", "; ")


class Habits:
    """How one leader fills in workbooks."""

    def __init__(self, troop: str) -> None:
        rng = dice("habits", troop)
        self.items = [item.code for item in ITEMS]
        if rng.random() < 0.3:
            self.items.sort()
        self.writes_zeros = rng.random() < 0.3
        self.lists_everyone = rng.random() < 0.25
        self.types_dates = rng.random() < 0.15  # as text, year first
        self.separator = rng.choice(SEPARATORS)
        self.labels_large = rng.random() < 0.5


class Pen:
    """Writes cells of one sheet, row after row."""

    def __init__(self, sheet: Worksheet, formats: dict[str, Format], habits: Habits) -> None:
        self.sheet, self.formats, self.habits = sheet, formats, habits
        self.row = 0

    def header(self, names: list[str]) -> None:
        """The first row, kept in view."""
        self.sheet.write_row(0, 0, names, self.formats["bold"])
        self.sheet.freeze_panes(1, 0)
        self.row = 1

    def line(self, values: list[object]) -> None:
        """The next row; None and "" leave a cell empty, and so does 0 where the leader writes no zeros."""
        for column, value in enumerate(values):
            self.cell(column, value)
        self.row += 1

    def cell(self, column: int, value: object) -> None:
        """One cell of the row."""
        if value is None or value == "":
            return
        if isinstance(value, date):
            self._date(column, value)
        elif isinstance(value, time):
            self.sheet.write_datetime(self.row, column, value, self.formats["time"])
        elif isinstance(value, float):
            self.sheet.write_number(self.row, column, value, self.formats["money"])
        elif isinstance(value, int):
            self.sheet.write_number(self.row, column, value)
        elif value == ERROR:
            self.sheet.write_formula(self.row, column, f"={ERROR}", None, ERROR)
        else:
            self.sheet.write_string(self.row, column, str(value))

    def _date(self, column: int, value: date) -> None:
        if self.habits.types_dates:
            self.sheet.write_string(self.row, column, value.isoformat())
        else:
            self.sheet.write_datetime(self.row, column, value, self.formats["date"])

    def packages(self, count: int) -> int | None:
        """A number of packages, or an empty cell for none."""
        return count if count or self.habits.writes_zeros else None


def money(cents: int | None) -> float | None:
    """Dollars as the spreadsheet stores them; nothing for none."""
    return None if not cents else cents / 100


def write_workbook(filing: Filing, everyone: list[str], path: Path) -> None:
    """Writes one filing; `everyone` is the troop's participants, for leaders who list them all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    book = xlsxwriter.Workbook(str(path), XLSX)
    book.set_properties({"created": filing.saved_at})
    formats = {
        "bold": book.add_format({"bold": True}),
        "date": book.add_format({"num_format": "yyyy-mm-dd"}),
        "time": book.add_format({"num_format": "hh:mm"}),
        "money": book.add_format({"num_format": "#,##0.00"}),
    }
    habits = Habits(filing.report.troop)

    def pen(name: str) -> Pen:
        sheet = book.add_worksheet(name)
        sheet.set_column(0, 0, 16)
        return Pen(sheet, formats, habits)

    _cover(pen("Cover"), filing)
    _stock(pen("Stock"), filing)
    if filing.report.families:
        _families(pen("Families"), filing, everyone)
    if filing.report.stalls:
        _stalls(pen("Stalls"), filing)
    _short_sheets(pen, filing)
    book.close()


def _cover(pen: Pen, filing: Filing) -> None:
    report = filing.report
    typed = filing.troop_as_typed
    lines: list[tuple[str, object]] = [
        ("troop", typed if typed == report.troop else int(typed)),
        ("week ending", report.ends),
        ("prepared by", report.prepared_by),
        ("prepared on", report.prepared_on),
        ("bank balance", None if report.bank_balance is None else report.bank_balance / 100),
        ("balance on", report.balance_on),
        ("note", report.note),
    ]
    for label, value in lines:
        pen.line([label.capitalize() if pen.habits.labels_large else label, value])


def _stock(pen: Pen, filing: Filing) -> None:
    pen.header(["Item", "Received", "Damaged", "On hand"])
    stock = filing.report.stock
    for k, item in enumerate(code for code in pen.habits.items if code in stock):
        line = stock[item]
        on_hand: object = ERROR if filing.is_faulty and k == 1 else line.on_hand
        pen.line([item, pen.packages(line.received), pen.packages(line.damaged), on_hand])


def _families(pen: Pen, filing: Filing, everyone: list[str]) -> None:
    unknown = ["TUL"] if filing.is_faulty else []
    pen.header(["Participant", *pen.habits.items, *unknown, "Cash", "Card", "Note"])
    rows = {row.participant: row for row in filing.report.families}
    listed = sorted({*rows, *everyone}) if pen.habits.lists_everyone else list(rows)
    for k, participant in enumerate(listed):
        row = rows.get(participant)
        if row is None:
            pen.line([participant])
            continue
        packages: list[object] = [pen.packages(row.packages.get(item, 0)) for item in pen.habits.items]
        if filing.is_faulty:
            packages[0] = "about 12" if row is filing.report.families[0] else packages[0]
            packages.append(3 if k % 4 == 0 else None)
        pen.line([participant, *packages, money(row.cash), money(row.card), row.note])


def _stalls(pen: Pen, filing: Filing) -> None:
    has_gifts = any(stall.gift for stall in filing.report.stalls)
    gifts = ["Gift"] if has_gifts else []
    pen.header(["Date", "Start", "End", "Place", *pen.habits.items, "Cash", "Card", "Participants", "Note", *gifts])
    for stall in filing.report.stalls:
        start = time.fromisoformat(stall.start) if stall.start else None
        until = time.fromisoformat(stall.until) if stall.until else None
        packages = [pen.packages(stall.packages.get(item, 0)) for item in pen.habits.items]
        team = pen.habits.separator.join(stall.team)
        taken = [money(stall.cash), money(stall.card), team, stall.note, *([money(stall.gift)] if has_gifts else [])]
        pen.line([stall.on, start, until, stall.place, *packages, *taken])


def _short_sheets(pen: Callable[[str], Pen], filing: Filing) -> None:
    report = filing.report
    if report.banked:
        banked = pen("Banked")
        has_kinds = any(row.kind for row in report.banked)  # most leaders' sheet has a row for deposits alone
        banked.header(["Date", "Amount", "Slip", "Note", *(["Kind", "Participant"] if has_kinds else [])])
        for paid in report.banked:
            kind = [paid.kind, paid.participant] if has_kinds else []
            banked.line([paid.on, money(paid.amount), paid.slip, paid.note, *kind])
    if report.moves:
        moves = pen("Moves")
        moves.header(["Date", "Item", "Packages", "Direction", "Other troop"])
        for move in report.moves:
            moves.line([move.on, move.item, move.packages, move.direction, move.other])
    if report.goals:
        goals = pen("Goals")
        goals.header(["Participant", "Goal", "Made elsewhere"])
        for participant, goal in report.goals.items():
            goals.line([participant, goal, report.elsewhere.get(participant)])
    if report.promised:
        promised = pen("Promised")
        promised.header(["Participant", *promised.habits.items])
        for participant, packages in report.promised.items():
            promised.line([participant, *(packages.get(item) for item in promised.habits.items)])
    if report.awards:
        awards = pen("Awards")
        awards.header(["Participant", "Award", "Steps", "Handed on"])
        for row in report.awards:
            awards.line([row.participant, row.award, " ".join(map(str, row.steps)), row.handed_on])
