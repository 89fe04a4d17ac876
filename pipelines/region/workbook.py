"""The region's workbook: a sheet for each level, then items, orders, what to follow up, who differs, what is left out.

Comes in: Sums and the tables made of them. Goes out: the bytes of region.xlsx, the same for the same sums.
"""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from decimal import Decimal

import xlsxwriter

from pipelines.definitions.measures import Measure, measure
from pipelines.region.adding import REGION, Row, Sums
from pipelines.reports.area_sheet import OF_ITEMS
from pipelines.reports.grid import Column, Pen, print_set_up, table
from pipelines.reports.week import day, money, paper_of

Tables = Mapping[str, Sequence[Row]]
SHOWN = (
    "troops", "submissions", "packages_sold", "sell_through", "registered", "taking_part", "share", "share_low",
    "share_high", "average_per_active", "median_per_active", "top_tenth_part", "charged", "proceeds", "credits",
    "owed", "past_due", "troops_past_due", "families_owe", "not_banked", "in_bank", "lacking", "missing", "pace",
)  # fmt: skip
LIMITS = {"value": "Value", "expected": "Others", "low_95": "From", "high_95": "To"}
AS_OF = Measure("as_of", "As of", "date", "The day of the area's newest roll-up; the sums hold it as it was then.")
CAUTIONS = (
    "Sums of what areas handed up; an area that is not as its own manifest says is left out whole, and named with the "
    "reason.",
    "An area whose newest week is an older one is in the sums as it was then; its day stands beside it.",
    "An amount owed is not proof of wrongdoing: a record may be late, a figure mistyped, a payment on its way.",
    "The organisation's own policy and local rules come first; nothing here is legal, tax or accounting advice.",
)


@dataclass(frozen=True)
class Title:
    """What stands on top of each sheet."""

    sums: Sums
    known_on: datetime | None = None

    @property
    def season_title(self) -> str:
        return str(self.sums.areas[0].terms["season"][0])

    @property
    def name(self) -> str:
        of = f"{len(self.sums.areas):,} area{'' if len(self.sums.areas) == 1 else 's'}"
        return f"week {self.sums.week}, as of {day(self.sums.as_of, weekday=True)}, {of}"

    @property
    def paper(self) -> str:
        return paper_of(self.sums.areas[0].terms["currency"])

    @property
    def sign(self) -> str:
        return str(self.sums.areas[0].terms["sign"])

    def money(self, amount: Decimal) -> str:
        return money(amount, self.sign)


def workbook(sums: Sums, tables: Tables) -> bytes:
    """The whole workbook."""
    out = io.BytesIO()
    made = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    made.set_properties({
        "title": "Roll-up of the region", "author": "Musterbook", "created": datetime.combine(sums.as_of, time())
    })  # fmt: skip
    pen = Pen(made, Title(sums))
    used: set[str] = set()

    def sheet(title: str, columns: Sequence[Column], rows: Sequence[Row], keep: int = 1) -> None:
        table(pen, made.add_worksheet(_free(title, used)), title, columns, rows, keep)

    for level in (REGION, *sums.names()):
        named = [_text(name) for name in _names_of(sums, level)] or [_text("level")]
        listed = [row for row in tables["region"] if row["level"] == level]
        columns = [*named, Column(AS_OF), *(Column(measure("area", name)) for name in SHOWN)]
        sheet(_title(level), columns, listed, keep=len(named))
    whole = [row for row in tables["items"] if row["level"] == REGION]
    sheet(
        "Items",
        [_text("item"), _text("title", 30), *(Column(measure("item_totals", name)) for name in OF_ITEMS)],
        whole,
    )
    sheet("Orders", [_text("mode"), _text("state"), _count("orders", "orders"), _count("packages", "packages"),
                     _count("goods_amount", "money", "Amount")], _of_region(tables, "orders"))  # fmt: skip
    sheet("To follow up", [_text("label", 40), _count("found", "orders", "Found"), _count("troops", "troops"),
                           _count("at_stake", "money", "At stake")], _of_region(tables, "exceptions"))  # fmt: skip
    differ = [row for row in tables["compared"] if row["is_low"] or row["is_high"]]
    limits = [_count(name, "average", label) for name, label in LIMITS.items()]
    sheet("Out of line", [_text("level"), *map(_text, sums.names()), _text("measure"), *limits], differ)
    sheet("Left out", [_text("folder", 60), _text("reason", 60)], tables["left_out"])
    _notes(pen, made)
    made.close()
    return out.getvalue()


def _of_region(tables: Tables, name: str) -> list[Row]:
    return [row for row in tables[name] if row["level"] == REGION]


def _names_of(sums: Sums, level: str) -> list[str]:
    """The levels down to one."""
    names = list(sums.names())
    return names[: names.index(level) + 1] if level in names else []


def _title(name: str) -> str:
    return name.replace("_", " ").capitalize()


def _free(title: str, used: set[str]) -> str:
    """A sheet's name that no other has: a level may be named as one of ours."""
    cut = "".join(mark for mark in title if mark not in "[]:*?/\\'")[:28] or "Level"
    while cut.casefold() in used:
        cut = f"{cut} 2"[-31:]
    used.add(cut.casefold())
    return cut


def _text(name: str, width: int = 18) -> Column:
    return Column(Measure(name, _title(name), "code", _title(name)), width=width)


def _count(name: str, unit: str, label: str = "") -> Column:
    return Column(Measure(name, label or _title(name), unit, label or _title(name)))  # type: ignore[arg-type]


def _notes(pen: Pen, made: xlsxwriter.Workbook) -> None:
    """What to bear in mind, and what each heading means."""
    sheet = made.add_worksheet("Notes")
    pen.head(sheet, "Notes")
    for place, width in enumerate((34, 110)):
        sheet.set_column(place, place, width)
    for row, line in enumerate(CAUTIONS, 3):
        sheet.merge_range(row, 0, row, 1, "", pen.formats["text"])
        pen.put(sheet, row, 0, line)
    for row, name in enumerate(SHOWN, 4 + len(CAUTIONS)):
        meant = measure("area", name)
        divided = f" Divided by: {meant.divides_by}." if meant.divides_by else ""
        sheet.set_row(row, 15 * (1 + len(meant.meaning + divided) // 125))
        pen.put(sheet, row, 0, meant.label, "strong")
        pen.put(sheet, row, 1, meant.meaning + divided, "wrap")
    print_set_up(pen, sheet)
