"""Everything agrees: a figure has one value, whichever screen or paper names it.

Gathered by its name in the glossary, over the CSV tables, workbook, statements, letters, the area's papers
and every screen of the coordinator and of a leader in the demo; two values for one name and troop, item or participant
fail by name and by where they stand.
"""

import csv
import io
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import pytest
from python_calamine import CalamineWorkbook
from shown_screens import SIX, metrics, shown
from streamlit.testing.v1 import AppTest

from dashboard.data import snapshots
from dashboard.parts.screen_list import screens_of
from pipelines.definitions.measures import RELATIONS, Measure, columns
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.reports import area_paper, csv_tables, letters, meeting_paper
from pipelines.reports.rollup import week_of
from pipelines.reports.statement import lead, values
from pipelines.reports.week import Week
from pipelines.reports.workbook import workbook
from pipelines.store.book import Book

AREA = "the area"
RELATIONS_SHOWN = ("participants", "families", "steps", "item_totals", "items", "area", "standing")
KNOWN: dict[str, Measure] = {one.label: one for relation in RELATIONS_SHOWN for one in RELATIONS[relation].values()}
KNOWN_AREA = {name: one.label for name, one in RELATIONS["area"].items()}
ROUNDED = {"money": "0.01", "share": "0.01", "average": "1", "rate": "0.0001", "weeks": "0.1"}
OF_ONE_DAY = ("as_of", "week_ending", "week_no")
OTHER_KEYS = {  # a table that also names one of these tells of a part of what the figure tells
    *OF_ONE_DAY, "week", "date", "day", "order", "line", "award", "slot", "place", "due_on", "rule", "code",
}  # fmt: skip
TROOP = "0448"
LEADER = Viewer("leader", frozenset({TROOP}))


class Gathered:
    """Every figure, by its name and whose it is: its values, and where each stands."""

    def __init__(self) -> None:
        self.found: dict[tuple[str, str], dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))

    def put(self, label: str, whose: str, value: Any, where: str) -> None:
        """One figure; a name that the glossary does not know, and what has no value, are left out."""
        if label in KNOWN and value not in (None, "") and (number := _number(value)) is not None:
            unit = KNOWN[label].unit
            is_share_in_words = unit == "share" and isinstance(value, str) and "%" in value
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


def _of_rows(all_of: Gathered, rows: Iterable[dict[str, Any]], where: str, of: str = "") -> None:
    """The rows of a table that names troops, items or participants; `of`: the troop of a screen that is a troop's."""
    for row in rows:
        if OTHER_KEYS & row.keys() or {"participant", "item"} <= row.keys():
            continue
        troop, part = row.get("troop") or of, row.get("participant") or row.get("item") or ""
        if "participant" in row:
            relations: tuple[str, ...] = ("families", "participants") if troop else ()
        elif "item" in row:
            relations = ("items",) if troop else ("item_totals",)
        else:
            relations = ("standing", "steps") if "troop" in row else ()
        for name, value in row.items() if relations else ():
            of_it = RELATIONS[max(relations, key=lambda relation: len(RELATIONS[relation].keys() & row.keys()))]
            if name in of_it:
                all_of.put(of_it[name].label, f"{troop} {part}".strip(), value, where)


def _of_tables(all_of: Gathered, week: Week) -> None:
    for name, one in RELATIONS["area"].items():
        all_of.put(one.label, AREA, week.area.get(name), "area")
    tables: dict[str, Iterable[dict[str, Any]]] = {
        name: week.figures.rows(name, week.as_of)
        for name in ("standing", "steps", "items", "families", "participants", "item_totals")
    }
    for name in csv_tables.tables_of(week)[:3]:
        tables[f"{name}.csv"] = csv.DictReader(io.StringIO(csv_tables.table_text(week.figures, name, week.as_of)))
    for where, rows in tables.items():
        of_day = [{name: value for name, value in row.items() if name not in OF_ONE_DAY} for row in rows]
        _of_rows(all_of, of_day, where)


def _of_workbook(all_of: Gathered, week: Week) -> None:
    book = CalamineWorkbook.from_filelike(io.BytesIO(workbook(week)))
    for sheet in book.sheet_names:
        rows = book.get_sheet_by_name(sheet).to_python(skip_empty_area=False)
        if sheet == "Area":
            for label, value in ((row[0], row[1]) for row in rows[5:]):
                if label in {KNOWN_AREA[name] for name in columns("area", "area")}:
                    all_of.put(str(label), AREA, value, "workbook, Area")
            continue
        heads = [str(cell).split("\n")[0] for cell in rows[4]]
        if heads[0] != "Troop" or "Item" in heads or sheet in ("Exceptions", "Stalls"):
            continue
        for row in rows[5:]:
            for label, value in zip(heads[1:], row[1:], strict=True):
                all_of.put(label, str(row[0]), value, f"workbook, {sheet}")


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


def _of_screens(all_of: Gathered, book: Book, viewer: Viewer) -> None:
    """Figures shown large, and tables."""
    snapshots.open_book(book, lambda: viewer)
    for one in screens_of("coordinator" if viewer.troops is None else "leader"):
        name = Path(one.file).stem
        is_troops = viewer.troops is not None or name == "troop"
        at: AppTest = shown(name, **({"troop": TROOP} if name == "troop" else {}))
        for label, value in metrics(at).items():
            all_of.put(label, TROOP if is_troops else AREA, value, f"screen {name}")
        for told in at.dataframe:
            frame = told.value
            shares = [column for column in frame.columns if _is_share(column)]
            rows = frame.assign(**{column: frame[column] / 100 for column in shares}).to_dict("records")
            _of_rows(all_of, rows, f"table on {name}", TROOP if is_troops else "")


def _is_share(column: str) -> bool:
    return any(column in RELATIONS[name] and RELATIONS[name][column].unit == "share" for name in RELATIONS_SHOWN)


@pytest.fixture(scope="module")
def gathered(demo_book: Book) -> Iterator[Gathered]:
    all_of = Gathered()
    with week_of(demo_book, SIX) as week:
        _of_tables(all_of, week)
        _of_workbook(all_of, week)
        _of_papers(all_of, week)
    for viewer in (COORDINATOR, LEADER):
        _of_screens(all_of, demo_book, viewer)
    yield all_of
    snapshots.open_book(None)


def test_every_paper_and_screen_says_one_value(gathered: Gathered) -> None:
    assert gathered.differing == {}


def test_all_of_them_are_gathered(gathered: Gathered) -> None:
    """So that the test above can fail: it saw the tables, the papers and the screens, a figure in several of them."""
    places = {where for values in gathered.found.values() for wheres in values.values() for where in wheres}
    assert {"standing", "area", "workbook, Money", "area.pdf", "meeting.pdf", "statement", "letter, in words",
            "families.csv", "screen this_week", "screen our_standing", "table on who_owes"} <= places  # fmt: skip
    owed = gathered.found["Owed", TROOP]
    assert len(owed) == 1
    assert len(set(next(iter(owed.values())))) >= 6
    assert len(gathered.found) > 3000


def test_two_values_would_be_told(gathered: Gathered) -> None:
    """One wrong figure among all that were gathered is named, with where it stands."""
    (value,) = gathered.found["Taking part", TROOP]
    wrong = Gathered()
    wrong.found = defaultdict(lambda: defaultdict(list), {key: dict(told) for key, told in gathered.found.items()})
    wrong.found["Taking part", TROOP] = defaultdict(list, gathered.found["Taking part", TROOP])
    wrong.put("Taking part", TROOP, str(int(value) + 1), "a letter")
    assert list(wrong.differing) == [("Taking part", TROOP)]
    assert wrong.differing["Taking part", TROOP][str(int(value) + 1)] == ["a letter"]
