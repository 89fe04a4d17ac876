"""rollup.xlsx: the week for people: area, troops, items, money, taking part, stalls, what to follow up, notes.

Comes in: a Week. Goes out: the workbook's bytes, the same each time. Every figure is a number of standing.csv,
items.csv or of the area; every heading's meaning comes from the glossary.
"""

import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, time
from typing import Any

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import Measure, Place, columns, measure
from pipelines.reports.area_sheet import area_sheet
from pipelines.reports.grid import Column, Pen, print_set_up, table
from pipelines.reports.stall_sheet import COLUMNS, stalls
from pipelines.reports.week import Row, Week

FOR_ORGANISATION = True
SUMMED = ("money", "packages", "participants")
LEVEL = Measure("level", "Level", "code", "The troop's age level, from the troops feed.")
LEADER = Measure("leader", "Leader", "code", "The troop's leader, from the troops feed.")
TITLE = Measure("title", "Title", "code", "The item's title.")
PRICE = Measure("price", "Price", "money", "The price of a package.")
EXCEPTIONS = (
    Measure("rule", "Rule", "code", "Which rule found it."),
    Measure("troop", "Troop", "code", "The troop's code."),
    Measure("subject", "About", "code", "The participant, item, order, stall or deposit it is about."),
    Measure("severity", "How pressing", "code", "Act now, ask, or watch."),
    Measure("at_stake", "At stake", "money", "What it is worth, where it is worth money."),
    Measure("first_seen", "First seen", "date", "The first week that showed it."),
    Measure("weeks_open", "Weeks open", "weeks", "For how many weeks it has been open."),
    Measure("what", "What", "code", "What was found, with its figures."),
    Measure("next_step", "Next step", "code", "What usually settles it."),
)

WIDE = {"rule": 22, "what": 58, "next_step": 48}  # columns of sentences


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """rollup.xlsx."""
    yield "rollup.xlsx", workbook(week)


def workbook(week: Week) -> bytes:
    """The workbook's bytes; text that looks like a formula or an address stays text."""
    out = io.BytesIO()
    kept = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    made = Workbook(out, kept)
    frame = week.season.season
    made.set_properties({
        "title": f"{frame.title}, week {week.week_no}", "subject": frame.area, "author": "Musterbook",
        "created": datetime.combine(week.as_of, time()),
    })  # fmt: skip
    pen = Pen(made, week)
    area_sheet(pen, week, made.add_worksheet("Area"))
    rows, items = list(week.standing.values()), [row for rows in week.items.values() for row in rows]
    level, leader = _people(week)

    def sheet(name: str, title: str, columns: Sequence[Column], listed: Sequence[Row], keep: int = 1) -> None:
        table(pen, made.add_worksheet(name), title, [_column("standing", "troop"), *columns], listed, keep)

    sheet("Troops", "Troops", [level, leader, *_columns("standing", "troops")], rows)
    sheet("Items", "Items of every troop", [*_item_columns(week), *_columns("items", "items")], items, keep=2)
    sheet("Money", "Money between troop and organisation", _columns("standing", "money"), rows)
    sheet(f"Every {week.coin}", f"Where every {week.coin} is", _columns("standing", "places"), rows)
    sheet("Taking part", "Taking part", [level, *_columns("standing", "people")], rows)
    if stalls_held := stalls(week):
        sheet("Stalls", "Stalls", COLUMNS, stalls_held)
    if week.exceptions and not week.for_organisation:
        _exceptions(pen, week, made.add_worksheet("Exceptions"))
    _notes(pen, made.add_worksheet("Notes"))
    made.close()
    return out.getvalue()


def _column(relation: str, name: str) -> Column:
    return Column(measure(relation, name))


def _columns(relation: str, place: Place) -> list[Column]:
    """The columns of a sheet, as the declarations place them."""
    found = [measure(relation, name) for name in columns(relation, place)]
    return [Column(one, is_summed=one.unit in SUMMED) for one in found]


def _people(week: Week) -> tuple[Column, Column]:
    def of(name: str) -> Callable[[Row], Any]:
        return lambda row: week.troops[row["troop"]][name] or ""

    return Column(LEVEL, width=12, read=of("level")), Column(LEADER, width=22, read=of("leader"))


def _item_columns(week: Week) -> list[Column]:
    titles = {code: item.title for code, item in week.season.codes.items()}
    return [_column("items", "item"), Column(TITLE, width=30, read=lambda row: titles[row["item"]]), Column(PRICE)]


def _exceptions(pen: Pen, week: Week, sheet: Worksheet) -> None:
    """What to follow up, the most pressing first, in sentences that wrap."""
    names = {name: rule.label for name, rule in rules().items()}
    listed = [
        Column(one, width=WIDE.get(one.name, 0), wraps=one.name in WIDE, read=_label if one.name == "rule" else None)
        for one in EXCEPTIONS
    ]
    rows = [{**row, "label": names[row["rule"]]} for of_troop in week.exceptions.values() for row in of_troop]
    table(pen, sheet, "To follow up", listed, sorted(rows, key=lambda row: -row["weight"]), keep=2)


def _label(row: Row) -> str:
    return str(row["label"])


CAUTIONS = (
    "An amount owed is not proof of wrongdoing: a record may be late, a figure mistyped, a payment on its way.",
    "Codes stand for participants. Keep this file as young people's figures are kept: for those who need it, and no "
    "longer than needed.",
    "The organisation's own policy and local rules come first; nothing here is legal, tax or accounting advice.",
)
FIRST_NOTE = 7


def _notes(pen: Pen, sheet: Worksheet) -> None:
    """What each heading means, as the glossary says it."""
    pen.head(sheet, "Notes")
    for place, width in enumerate((34, 14, 110)):
        sheet.set_column(place, place, width)
    for row, line in enumerate(CAUTIONS, 3):
        sheet.merge_range(row, 0, row, 2, "", pen.formats["text"])
        pen.put(sheet, row, 0, line)
    for place, title in enumerate(("Heading", "Unit", "Meaning")):
        pen.put(sheet, FIRST_NOTE, place, title, "header")
    for row, meant in enumerate(_explained(), FIRST_NOTE + 1):
        divided = f" Divided by: {meant.divides_by}." if meant.divides_by else ""
        caution = f" {meant.caution}" if meant.caution else ""
        meaning = f"{meant.meaning}{divided}{caution}"
        sheet.set_row(row, 15 * (1 + len(meaning) // 125))  # not every program fits the height to the text by itself
        pen.put(sheet, row, 0, meant.label, "strong")
        pen.put(sheet, row, 1, meant.unit)
        pen.put(sheet, row, 2, meaning, "wrap")
    sheet.freeze_panes(FIRST_NOTE + 1, 1)
    sheet.repeat_rows(FIRST_NOTE)
    print_set_up(pen, sheet)


def _explained() -> list[Measure]:
    """Every heading of the workbook once, by its label."""
    shown: list[tuple[str, tuple[Place, ...]]] = [
        ("standing", ("troops", "money", "places", "people")), ("items", ("items",)), ("area", ("area",)),
    ]  # fmt: skip
    named = [("standing", "troop"), ("items", "item")]
    named += [(relation, name) for relation, places in shown for place in places for name in columns(relation, place)]
    meant: dict[str, Measure] = {}
    for relation, name in named:
        one = measure(relation, name)
        known = meant.setdefault(one.label, one)
        if one.meaning != known.meaning and one.meaning not in known.meaning:
            more = one.meaning.removeprefix(known.meaning).strip()
            meant[one.label] = replace(known, meaning=f"{known.meaning} In the area: {more}")
    return sorted(meant.values(), key=lambda one: one.label.casefold())
