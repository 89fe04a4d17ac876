"""rollup.xlsx: the week for people: area, troops, items, money, taking part, what to follow up, notes.

Comes in: a Week. Goes out: the workbook's bytes, the same each time. Every figure is a number of standing.csv,
items.csv or of the area; every heading's meaning comes from the glossary.
"""

import io
from collections.abc import Iterator
from datetime import datetime, time
from typing import Any

from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import Measure, measure
from pipelines.reports.area_sheet import AREA, area_sheet
from pipelines.reports.dollar_places import PLACES
from pipelines.reports.grid import Column, Pen, print_set_up, table
from pipelines.reports.week import Row, Week

SUMMED = ("money", "packages", "participants")
BARS = ("sell_through", "paid_through", "share", "past_due", "packages_sold", "missing_value", "not_banked")
TROOPS = (
    "submitted packages_sold available sold_from_stock remote on_hand missing sell_through paid_through owed past_due "
    "next_due_on next_due next_due_is_estimate cover"
)
WHERE = f"available_value remote_value {' '.join(PLACES)}"
MONEY = (
    "charged proceeds_rate proceeds paid_online remitted adjustments credits owed being_collected past_due "
    "past_due_0_7 past_due_8_14 past_due_15_30 past_due_over_30 next_due_on next_due next_due_is_estimate bank cover"
)
TAKING_PART = (
    "registered taking_part registered_taking_part share share_low share_high average_per_registered "
    "average_per_active packages_sold"
)
ITEMS = (
    "supplied moved_in moved_out available damaged handed_out stall remote expected_on_hand on_hand missing "
    "sell_through weeks_of_supply"
)
ESTIMATE = Measure(
    "Estimate", "yes or no", "Whether the next due is worked out here, because no collection is announced for it."
)
EXCEPTIONS = {
    "rule": Measure("Rule", "code", "Which rule found it."),
    "troop": Measure("Troop", "code", "The troop's code."),
    "subject": Measure("About", "code", "The participant, item, order, stall or deposit it is about."),
    "severity": Measure("How pressing", "code", "Act now, ask, or watch."),
    "at_stake": Measure("At stake", "money", "What it is worth, where it is worth money."),
    "first_seen": Measure("First seen", "date", "The first week that showed it."),
    "weeks_open": Measure("Weeks open", "weeks", "For how many weeks it has been open."),
    "what": Measure("What", "code", "What was found, with its figures."),
    "next_step": Measure("Next step", "code", "What usually settles it."),
}

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
    area_sheet(pen, made.add_worksheet("Area"))
    rows = list(week.standing.values())
    table(pen, made.add_worksheet("Troops"), "Troops", [_troop(), *_people(week), *_columns("standing", TROOPS)], rows)
    items = [row for rows in week.items.values() for row in rows]
    item_columns = [_troop(), *_item_columns(week), *_columns("items", ITEMS)]
    table(pen, made.add_worksheet("Items"), "Items of every troop", item_columns, items, keep=2)
    money = [_troop(), *_columns("standing", MONEY)]
    table(pen, made.add_worksheet("Money"), "Money between troop and organisation", money, rows)
    where = [_troop(), *_columns("standing", WHERE)]
    table(pen, made.add_worksheet(f"Every {week.coin}"), f"Where every {week.coin} is", where, rows)
    taking = [_troop(), *_people(week)[:1], *_columns("standing", TAKING_PART)]
    table(pen, made.add_worksheet("Taking part"), "Taking part", taking, rows)
    if week.exceptions:
        _exceptions(pen, made.add_worksheet("Exceptions"))
    _notes(pen, made.add_worksheet("Notes"))
    made.close()
    return out.getvalue()


def _troop() -> Column:
    return Column("troop", measure("standing", "troop"))


def _people(week: Week) -> list[Column]:
    level = Measure("Level", "code", "The troop's age level, from the troops feed.")
    leader = Measure("Leader", "code", "The troop's leader, from the troops feed.")

    def of(name: str) -> Any:
        return lambda row: week.troops[row["troop"]][name] or ""

    return [Column("level", level, width=12, read=of("level")), Column("leader", leader, width=22, read=of("leader"))]


def _columns(relation: str, names: str) -> list[Column]:
    columns = []
    for name in names.split():
        meant = ESTIMATE if name == "next_due_is_estimate" else measure(relation, name)
        columns.append(Column(name, meant, meant.unit in SUMMED, name in BARS))
    return columns


def _item_columns(week: Week) -> list[Column]:
    title = Measure("Title", "code", "The item's title.")
    price = Measure("Price", "money", "The price of a package.")
    titles = {code: item.title for code, item in week.season.codes.items()}
    return [
        Column("item", measure("items", "item")),
        Column("title", title, width=30, read=lambda row: titles[row["item"]]),
        Column("price", price),
    ]


def _exceptions(pen: Pen, sheet: Worksheet) -> None:
    """What to follow up, the most pressing first, in sentences that wrap."""
    names = {name: rule.label for name, rule in rules().items()}
    columns = [
        Column(name, meant, width=WIDE.get(name, 0), wraps=name in WIDE, read=_label if name == "rule" else None)
        for name, meant in EXCEPTIONS.items()
    ]
    rows = [{**row, "label": names[row["rule"]]} for of_troop in pen.week.exceptions.values() for row in of_troop]
    table(pen, sheet, "To follow up", columns, sorted(rows, key=lambda row: -row["weight"]), keep=2)


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
    named = [
        ("standing", n) for n in f"troop {TROOPS} {MONEY} {WHERE} {TAKING_PART}".split() if n != "next_due_is_estimate"
    ]
    named += [("items", n) for n in f"item {ITEMS}".split()] + [("area", n) for n in AREA.split()]
    meant = {(m.label, m.meaning): m for m in (measure(relation, name) for relation, name in named)}
    return sorted([*meant.values(), ESTIMATE], key=lambda one: one.label.casefold())
