"""Everything agrees: a figure has one value, whichever screen or paper names it.

Gathered by its name in the glossary, over tables, workbook, statements, letters, the area's papers and screens of the
demo; two values for one name and troop fail by name and by where they stand.
"""

import io
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import openpyxl
import pytest
from shown_screens import SIX, metrics
from streamlit.testing.v1 import AppTest

from dashboard.data import snapshots
from pipelines.definitions.measures import RELATIONS, Measure, columns
from pipelines.reports import area_paper, letters, meeting_paper
from pipelines.reports.rollup import week_of
from pipelines.reports.statement import lead, values
from pipelines.reports.week import Week
from pipelines.reports.workbook import workbook
from pipelines.store.book import Book

pytestmark = pytest.mark.filterwarnings(
    "ignore:.*extension is not supported"
)  # openpyxl does not know data bars of 2010
AREA = "the area"
KNOWN: dict[str, Measure] = {
    one.label: one for relation in ("steps", "items", "area", "standing") for one in RELATIONS[relation].values()
}
ROUNDED = {"money": "0.01", "share": "0.01", "average": "1", "rate": "0.0001", "weeks": "0.1"}
SCREENS = ("this_week", "taking_part", "who_owes", "stock")
TROOP = "0448"


class Gathered:
    """Every figure, by its name and whose it is: its values, and where each stands."""

    def __init__(self) -> None:
        self.found: dict[tuple[str, str], dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))

    def put(self, label: str, whose: str, value: Any, where: str) -> None:
        """One figure; a name that the glossary does not know, and what has no value, are left out."""
        if label in KNOWN and value not in (None, "") and (number := _number(value)) is not None:
            unit = KNOWN[label].unit
            is_share_in_words = unit == "share" and isinstance(value, str)
            exact = number / 100 if is_share_in_words else number
            shown = exact.quantize(Decimal(ROUNDED.get(unit, "1")), ROUND_HALF_UP)
            self.found[label, whose][f"{abs(shown) if shown == 0 else shown}"].append(where)

    @property
    def differing(self) -> dict[tuple[str, str], dict[str, list[str]]]:
        """What has more than one value."""
        return {key: dict(values) for key, values in self.found.items() if len(values) > 1}


def _number(value: Any) -> Decimal | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, str):
        plain = value.replace("\N{MINUS SIGN}", "-").replace("about ", "")
        if lacking := re.fullmatch(r"\$([\d,.]+) lacking", plain):
            plain = f"-{lacking[1]}"
        plain = re.sub(r"[$,%\s]", "", plain)
        return Decimal(plain) if re.fullmatch(r"-?\d+(\.\d+)?", plain) else None
    return (
        Decimal(repr(value))
        if isinstance(value, float)
        else Decimal(value)
        if isinstance(value, int | Decimal)
        else None
    )


def _of_tables(all_of: Gathered, week: Week) -> None:
    for troop, row in week.standing.items():
        for name, one in RELATIONS["standing"].items():
            all_of.put(one.label, troop, row.get(name), "standing")
        for name, one in RELATIONS["steps"].items():
            all_of.put(one.label, troop, week.steps[troop].get(name), "steps")
    for name, one in RELATIONS["area"].items():
        all_of.put(one.label, AREA, week.area.get(name), "area")


def _of_workbook(all_of: Gathered, week: Week) -> None:
    for sheet in openpyxl.load_workbook(io.BytesIO(workbook(week)), data_only=True).worksheets:
        if sheet.title == "Area":
            for label, value in ((row[0].value, row[1].value) for row in sheet.iter_rows(min_row=6)):
                if label in {KNOWN_AREA[name] for name in columns("area", "area")}:
                    all_of.put(str(label), AREA, value, "workbook, Area")
            continue
        heads = [str(cell.value or "").split("\n")[0] for cell in sheet[5]]
        if heads[0] != "Troop" or "Item" in heads or sheet.title in ("Exceptions", "Stalls"):
            continue
        for row in sheet.iter_rows(min_row=6, values_only=True):
            for label, value in zip(heads[1:], row[1:], strict=True):
                all_of.put(label, str(row[0]), value, f"workbook, {sheet.title}")


KNOWN_AREA = {name: one.label for name, one in RELATIONS["area"].items()}


def _of_papers(all_of: Gathered, week: Week) -> None:
    for paper, told in (("area.pdf", area_paper.values(week)), ("meeting.pdf", meeting_paper.values(week))):
        for label, value, *_ in [*told["tiles"], *told["path"]]:
            all_of.put(label, AREA, value, paper)
        said = " ".join(str(told[name]) for name in ("lead", "taking_part") if name in told)
        _of_sentence(all_of, AREA, said, paper)
        for place in told.get("places", []):
            all_of.put(place["label"], AREA, place["shown"], paper)
    for troop in week.standing:
        told = values(week, troop)
        for label, value, *_ in told["tiles"]:
            all_of.put(label, troop, value, "statement")
        for place in told["places"]:
            all_of.put(place["label"], troop, place["shown"], "statement")
        all_of.put("Owed", troop, told["week"][-1][2], "statement, the week's account")
        all_of.put("Owed", troop, told["account"][-1][1], "statement, the account")
        _of_sentence(all_of, troop, lead(week, troop), "statement")
        _of_sentence(all_of, troop, letters.text(week, troop), "letter")


def _of_sentence(all_of: Gathered, whose: str, said: str, where: str) -> None:
    for label, pattern in (
        ("Taking part", r"([\d,]+) taking part"), ("Packages sold", r"sold ([\d,]+) packages"),
        ("Owed", r"owe the organisation (\S+) in all"), ("Past due", r"(\S+) of it is past due"),
        ("Registered and taking part", r"([\d,]+) of your [\d,]+ registered"),
        ("Registered", r"[\d,]+ of your ([\d,]+) registered"),
    ):  # fmt: skip
        for found in re.findall(pattern, said):
            all_of.put(label, whose, found, f"{where}, in words")


@pytest.fixture(scope="module")
def gathered(demo_book: Book) -> Iterator[Gathered]:
    all_of = Gathered()
    with week_of(demo_book, SIX) as week:
        _of_tables(all_of, week)
        _of_workbook(all_of, week)
        _of_papers(all_of, week)
    yield all_of
    snapshots.open_book(None)


def test_every_paper_says_one_value(gathered: Gathered) -> None:
    places = {where for values in gathered.found.values() for wheres in values.values() for where in wheres}
    assert {"standing", "area", "workbook, Money", "area.pdf", "meeting.pdf", "statement", "letter, in words"} <= places
    assert gathered.differing == {}


def test_every_screen_says_the_papers_value(
    gathered: Gathered, demo_book: Book, screen: Callable[..., AppTest]
) -> None:
    before = len(gathered.found)
    for name in SCREENS:
        for label, value in metrics(screen(demo_book, name)).items():
            gathered.put(label, AREA, value, f"screen {name}")
    for label, value in metrics(screen(demo_book, "troop", troop=TROOP)).items():
        gathered.put(label, TROOP, value, "screen troop")
    assert len(gathered.found) >= before
    assert any("screen troop" in wheres for values in gathered.found.values() for wheres in values.values())
    assert gathered.differing == {}


def test_two_values_would_be_told() -> None:
    one = Gathered()
    one.put("Taking part", "0448", 22, "statement")
    one.put("Taking part", "0448", "21", "letter")
    assert one.differing == {("Taking part", "0448"): {"22": ["statement"], "21": ["letter"]}}
