"""The demo season as files: read back with openpyxl, csv and pyarrow, by nothing of the tool that takes it in."""

import csv
import hashlib
import os
import re
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import demo_warehouse
from demo_warehouse import KINDS, TROUBLES, Trouble
from demo_warehouse.owed import open_books
from demo_warehouse.records import FamilyRow, Order, Remittance, Report, Stall, Supply

Row = dict[str, Any]
ENDS = {week: date(2027, 2, 7) + timedelta(weeks=week) for week in range(1, 11)}
TROUBLED = {trouble.troop for trouble in TROUBLES} | {trouble.other for trouble in TROUBLES}


class Workbook:
    """One workbook: its cover by label, its sheets as rows by header; empty cells left out."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.landed_week = int(path.parent.name.removeprefix("week-"))
        book = openpyxl.load_workbook(path, data_only=True)
        self.cover = {str(row[0]).lower(): row[1] for row in book["Cover"].iter_rows(values_only=True)}
        self.sheets = {name: self._rows(book[name]) for name in book.sheetnames if name != "Cover"}
        self.troop = str(self.cover["troop"]).zfill(4)
        self.ends = as_date(self.cover["week ending"])
        self.is_faulty = any("TUL" in row for row in self.sheets.get("Families", []))

    @staticmethod
    def _rows(sheet: Any) -> list[Row]:
        header, *rows = sheet.iter_rows(values_only=True)
        named = [{h: v for h, v in zip(header, row, strict=True) if v is not None} for row in rows]
        return [row for row in named if row]

    def rows(self, name: str) -> list[Row]:
        return self.sheets.get(name, [])


class Files:
    """Everything in the demo's folder; figures as a coordinator with pencil and paper would add them up."""

    def __init__(self, folder: Path) -> None:
        self.season = tomllib.loads((folder / "season.toml").read_text())
        self.price = {item["code"]: Decimal(item["price"]) for item in self.season["items"]}
        self.stocked = [item["code"] for item in self.season["items"] if item.get("stocked", True)]
        self.workbooks = [Workbook(path) for path in sorted(folder.glob("inbox/week-*/*.xlsx"))]
        feeds = folder / "inbox" / "week-6" / "feeds"
        self.feeds = {path.stem: csv_rows(path) for path in feeds.glob("*.csv")}
        self.feeds["pages"] = pq.read_table(feeds / "pages.parquet").to_pylist()
        adjustments = Workbook._rows(openpyxl.load_workbook(feeds / "adjustments.xlsx").worksheets[0])
        self.feeds["adjustments"] = [{name.lower(): value for name, value in row.items()} for row in adjustments]
        # within one landing the last by path holds
        self.last = {(book.troop, book.ends): book for book in self.workbooks if not book.is_faulty}

    def of(self, troop: str, week: int | None = None) -> list[Workbook]:
        """The accepted workbooks of a troop, of one week or of all."""
        wanted = [ENDS[week]] if week else ENDS.values()
        return [self.last[troop, ends] for ends in wanted if (troop, ends) in self.last]

    def rows(self, troop: str, sheet: str, until_week: int = 6) -> list[Row]:
        return [row for week in range(1, until_week + 1) for book in self.of(troop, week) for row in book.rows(sheet)]

    def feed(self, name: str, troop: str) -> list[Row]:
        return [row for row in self.feeds.get(name, []) if row["troop"] == troop]

    def worth(self, row: Row) -> Decimal:
        return sum((self.price[item] * row.get(item, 0) for item in self.price), Decimal(0))

    def owes(self, troop: str, participant: str) -> Decimal:
        """Charged less cash and card; what was paid online is not taken off."""
        rows = [row for row in self.rows(troop, "Families") if row["Participant"] == participant]
        return sum((self.worth(row) - money(row, "Cash") - money(row, "Card") for row in rows), Decimal(0))

    def expected_on_hand(self, troop: str, week: int) -> Counter[str]:
        """Supplied, moved (on the giver's word), damaged, exchanged, handed out and sold at stalls, item by item."""
        there: Counter[str] = Counter()
        for row in self.feed("supply", troop):
            sign = -1 if row["kind"] == "returned" else 1
            if date.fromisoformat(row["date"]) <= ENDS[week]:
                there[row["item"]] += sign * int(row["packages"])
        for row in self.rows(troop, "Stock", week):
            there[row["Item"]] -= row.get("Damaged", 0)
        for row in self.rows(troop, "Families", week) + self.rows(troop, "Stalls", week):
            there.subtract({item: row.get(item, 0) for item in self.stocked})
        for number in range(1, week + 1):
            for item, packages in self.moved(troop, number):
                there[item] += packages
        return there

    def moved(self, troop: str, week: int) -> list[tuple[str, int]]:
        came = []
        for book in [book for (_, ends), book in self.last.items() if ends == ENDS[week]]:
            for row in book.rows("Moves"):
                other, is_out = str(row["Other troop"]).zfill(4), row["Direction"] == "out"
                giver_told = other != "outside" and (other, ENDS[week]) in self.last
                if troop not in (book.troop, other) or (not is_out and giver_told):
                    continue
                left = is_out == (book.troop == troop)
                came.append((row["Item"], -row["Packages"] if left else row["Packages"]))
        return came


def csv_rows(path: Path) -> list[Row]:
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def as_date(value: Any) -> date:
    return value.date() if isinstance(value, datetime) else date.fromisoformat(str(value))


def money(row: Row, name: str) -> Decimal:
    return Decimal(str(row.get(name, 0)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("demo")
    demo_warehouse.make(made)
    return made


@pytest.fixture(scope="module")
def files(folder: Path) -> Files:
    return Files(folder)


def test_the_same_arguments_give_the_same_bytes_and_nothing_of_the_tool_is_imported(
    folder: Path, tmp_path: Path
) -> None:
    """Made again by another process, which orders its sets differently."""
    code = f"import sys, pathlib, demo_warehouse; demo_warehouse.make(pathlib.Path({str(tmp_path)!r})); "
    code += "sys.exit(any(name.split('.')[0] == 'pipelines' for name in sys.modules))"
    environment = os.environ | {"PYTHONHASHSEED": "7", "PYTHONPATH": str(Path(__file__).parents[2])}
    subprocess.run([sys.executable, "-c", code], check=True, env=environment)

    def hashes(top: Path) -> dict[str, str]:
        files = [path for path in top.rglob("*") if path.is_file()]
        return {str(path.relative_to(top)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}

    assert hashes(tmp_path) == hashes(folder)


def test_the_area_has_34_troops_of_4_to_40_participants_in_four_levels(files: Files) -> None:
    sizes = Counter(row["troop"] for row in files.feeds["roster"])
    assert len(files.feeds["troops"]) == len(sizes) == 34
    assert 550 <= sizes.total() <= 650
    assert (min(sizes.values()), max(sizes.values())) == (4, 40)
    assert {row["level"] for row in files.feeds["troops"]} == {"younger", "middle", "older", "mixed"}
    assert all(re.fullmatch(r"\d{4}", troop) for troop in sizes)
    assert any(troop.startswith("0") for troop in sizes)


def test_nobody_is_named_but_leaders_who_do_not_exist(files: Files) -> None:
    leaders = {row["leader"] for row in files.feeds["troops"]}
    guests = {one.participant for one in TROUBLES if one.kind in ("changed_troops", "guest_at_stall")}
    for row in files.feeds["troops"]:
        assert re.fullmatch(r"[a-z]+\.[a-z]+@example\.org", row["email"])
        assert re.fullmatch(r"555-01\d\d", row["phone"])
    for book in files.workbooks:
        assert book.cover["prepared by"] in leaders
        teams = " ".join(row["Participants"] for row in book.rows("Stalls"))
        for code in [row["Participant"] for row in book.rows("Families")] + re.split(r"[ ,;]+", teams):
            assert code in ("troop", "", *guests) or re.fullmatch(rf"{book.troop}-\d\d", code)


@pytest.mark.parametrize("trouble", TROUBLES, ids=lambda trouble: f"{trouble.kind}-{trouble.troop}-{trouble.week}")
def test_a_trouble_of_the_table_is_really_in_the_files(files: Files, trouble: Trouble) -> None:
    assert globals()[f"sees_{trouble.kind}"](files, trouble)


def test_without_troubles_none_of_them_is_in_the_files(tmp_path: Path) -> None:
    """So that each of the checks can fail; a row that is not even there counts as not seen."""
    demo_warehouse.make(tmp_path, troubles=False)
    files = Files(tmp_path)
    for trouble in TROUBLES:
        try:
            seen = globals()[f"sees_{trouble.kind}"](files, trouble)
        except (ValueError, IndexError):
            seen = False
        assert not seen, trouble


def test_every_kind_of_trouble_has_a_troop() -> None:
    assert {trouble.kind for trouble in TROUBLES} == set(KINDS)


def sees_late(files: Files, trouble: Trouble) -> bool:
    return [book.landed_week for book in files.of(trouble.troop, trouble.week)] == [trouble.week + 1]


def sees_missing(files: Files, trouble: Trouble) -> bool:
    return not any((book.troop, book.ends) == (trouble.troop, ENDS[trouble.week]) for book in files.workbooks)


def sees_held(files: Files, trouble: Trouble) -> bool:
    (book,) = _versions(files, trouble)
    texts = [value for row in book.rows("Families") for item in files.price if isinstance(value := row.get(item), str)]
    unknown = [row["TUL"] for row in book.rows("Families") if "TUL" in row]
    errors = [row for row in book.rows("Stock") if row.get("On hand") == "#REF!"]
    return bool(texts and unknown and errors) and not files.of(trouble.troop, trouble.week)


def sees_held_then_mended(files: Files, trouble: Trouble) -> bool:
    return [book.is_faulty for book in _versions(files, trouble)] == [True, False]


def sees_resubmitted_lower(files: Files, trouble: Trouble) -> bool:
    first, second = _versions(files, trouble)
    packages, cash = (
        [sum(row.get(name, 0) for row in book.rows("Families")) for book in (first, second)] for name in ("GLA", "Cash")
    )
    return packages[0] - packages[1] == trouble.number and cash[0] - cash[1] == 98


def sees_packages_missing(files: Files, trouble: Trouble) -> bool:
    return _missing(files, trouble.troop, trouble.week).total() == trouble.number


def sees_cases_typed(files: Files, trouble: Trouble) -> bool:
    ((item, missing),) = _missing(files, trouble.troop, trouble.week).items()
    per_case = {row["code"]: row["packages_per_case"] for row in files.season["items"]}[item]
    there = files.expected_on_hand(trouble.troop, trouble.week)[item]
    return there - missing == there / per_case > 0


def sees_one_sided_move(files: Files, trouble: Trouble) -> bool:
    return _told(files, trouble, trouble.troop, trouble.other) == [trouble.number] and not _told(
        files, trouble, trouble.other, trouble.troop
    )


def sees_moves_differ(files: Files, trouble: Trouble) -> bool:
    given, taken = (
        _told(files, trouble, trouble.troop, trouble.other),
        _told(files, trouble, trouble.other, trouble.troop),
    )
    return given == [12] and taken == [10]


def sees_not_counted(files: Files, trouble: Trouble) -> bool:
    (book,) = files.of(trouble.troop, trouble.week)
    return sum("On hand" not in row for row in book.rows("Stock")) == 3


def sees_lost_zero(files: Files, trouble: Trouble) -> bool:
    books = [book for week in range(trouble.week, 7) for book in files.of(trouble.troop, week)]
    return [(book.cover["troop"], book.path.name[:4]) for book in books] == [(417, "417 ")] * 3


def sees_stall_short(files: Files, trouble: Trouble) -> bool:
    short = [files.worth(row) - money(row, "Cash") - money(row, "Card") for row in _week(files, trouble, "Stalls")]
    return [amount for amount in short if amount] == [Decimal(trouble.number) / 100]


def sees_bank_fee(files: Files, trouble: Trouble) -> bool:
    return _of_the_bank(files, trouble, "fee") == [-Decimal(trouble.number) / 100]


def sees_float_taken(files: Files, trouble: Trouble) -> bool:
    return _of_the_bank(files, trouble, "float") == [-Decimal(trouble.number) / 100]


def sees_cheque_came_back(files: Files, trouble: Trouble) -> bool:
    rows = [row for row in _week(files, trouble, "Banked") if row.get("Participant") == trouble.participant]
    handed_in = [money(row, "Cash") for row in files.rows(trouble.troop, "Families", trouble.week)
                 if row["Participant"] == trouble.participant]  # fmt: skip
    return [row["Kind"] for row in rows] == ["returned_cheque"] and sum(handed_in) >= Decimal(trouble.number) / 100


def sees_gift_at_stall(files: Files, trouble: Trouble) -> bool:
    gifts = [money(row, "Gift") for row in _week(files, trouble, "Stalls") if "Gift" in row]
    return gifts == [Decimal(trouble.number) / 100]


def sees_arrears_said(files: Files, trouble: Trouble) -> bool:
    return {row["arrears"] for row in files.feed("collections", trouble.troop)} == {"included"}


def sees_bank_lines(files: Files, trouble: Trouble) -> bool:
    lines = [Decimal(row["amount"]) for row in files.feed("bank_lines", trouble.troop)]
    reported = [money(row, "Amount") for row in files.rows(trouble.troop, "Banked", 5)]
    return -Decimal(trouble.number) / 100 in lines and not [amount for amount in reported if amount not in lines]


def sees_collected_twice(files: Files, trouble: Trouble) -> bool:
    taken = Counter(row["amount"] for row in files.feed("bank_lines", trouble.troop) if row["amount"][0] == "-")
    return sorted(taken.values())[-2:] == [1, 2]


def sees_another_account(files: Files, trouble: Trouble) -> bool:
    lines = {code: [row["text"] for row in files.feed("bank_lines", code)] for code in (trouble.troop, trouble.other)}
    slips = {row["Slip"] for row in _week(files, trouble, "Banked")}
    elsewhere = slips - set(lines[trouble.troop])
    return len(elsewhere) == 1 and elsewhere <= set(lines[trouble.other])


def sees_sent_twice(files: Files, trouble: Trouble) -> bool:
    sent = [row for row in files.feed("remittances", trouble.troop) if row["date"] > "2027-03-14"]
    back = [row for row in sent if row["state"] == "returned"]
    paid = [row for row in sent if row["state"] == "cleared"]
    return len(back) == 1 and [row["amount"] for row in paid] == [back[0]["amount"]] * 2


def sees_stall_and_page(files: Files, trouble: Trouble) -> bool:
    short = [files.worth(row) - money(row, "Cash") - money(row, "Card") for row in _week(files, trouble, "Stalls")]
    page = [row for row in files.feed("online_orders", trouble.troop) if row["participant"] in ("", "troop")]
    paid = sum(Decimal(row["goods_amount"]) for row in page if row["state"] == "taken_on")
    return [amount for amount in short if amount] == [paid] == [files.price[trouble.item] * trouble.number]


def sees_exchanged_more(files: Files, trouble: Trouble) -> bool:
    rows = [row for row in files.feed("supply", trouble.troop) if row["item"] == trouble.item]
    exchanged = sum(int(row["packages"]) for row in rows if row["kind"] == "exchange")
    damaged = sum(row.get("Damaged", 0) for row in files.rows(trouble.troop, "Stock") if row["Item"] == trouble.item)
    return exchanged - damaged == trouble.number


def sees_household(files: Files, trouble: Trouble) -> bool:
    roster = {row["participant"]: row["household"] for row in files.feed("roster", trouble.troop)}
    together = [code for code, household in roster.items() if household == roster[trouble.participant] != ""]
    owed = [files.owes(trouble.troop, code) for code in together]
    return len(owed) == 2 and min(owed) < -5 and sum(owed) == 0


def sees_changed_troops(files: Files, trouble: Trouble) -> bool:
    rows = [row for row in files.feeds["roster"] if row["participant"] == trouble.participant]
    sold = [code for code in (trouble.troop, trouble.other) if trouble.participant in _sellers(files, code)]
    before, now = sorted(rows, key=lambda row: row["registered_on"])
    return before["left_on"] == now["registered_on"] and now["troop"] == trouble.other and trouble.troop in sold


def sees_guest_at_stall(files: Files, trouble: Trouble) -> bool:
    return trouble.participant in _sellers(files, trouble.troop)


def sees_rate_fell(files: Files, trouble: Trouble) -> bool:
    """One of the roster who never took anything works at a stall of another troop: there are five in place of four."""
    took, stood = _sellers(files, trouble.troop), {row["Participants"] for row in files.rows("1462", "Stalls", 6)}
    return len(took) == 4 and sum(f"{trouble.troop}-" in team for team in stood) == 1


def _of_the_bank(files: Files, trouble: Trouble, kind: str) -> list[Decimal]:
    return [money(row, "Amount") for row in _week(files, trouble, "Banked") if row.get("Kind") == kind]


def sees_cash_unbanked(files: Files, trouble: Trouble) -> bool:
    cash = sum(money(row, "Cash") for sheet in ("Families", "Stalls") for row in files.rows(trouble.troop, sheet))
    banked = sum(money(row, "Amount") for row in files.rows(trouble.troop, "Banked"))
    late = [book for week in range(trouble.week, 7) for book in files.of(trouble.troop, week) if book.rows("Banked")]
    return cash - banked > 1000 and not late


def sees_past_due(files: Files, trouble: Trouble) -> bool:
    return not files.feed("remittances", trouble.troop) and bool(files.feed("supply", trouble.troop))


def sees_returned_remittance(files: Files, trouble: Trouble) -> bool:
    states = [(row["state"], row["reason"][:3]) for row in files.feed("remittances", trouble.troop)]
    return states[-2:] == [("pending", ""), ("returned", "R01")]


def sees_collection_under_way(files: Files, trouble: Trouble) -> bool:
    last = files.feed("remittances", trouble.troop)[-1]
    asked = {(row["on"], row["amount"]) for row in files.feed("collections", trouble.troop)}
    return last["state"] == "pending" and (last["date"], last["amount"]) in asked


def sees_bank_may_not_cover(files: Files, trouble: Trouble) -> bool:
    (book,) = files.of(trouble.troop, trouble.week)
    coming = [row for row in files.feed("collections", trouble.troop) if row["on"] > str(ENDS[trouble.week])]
    return bool(coming) and Decimal(str(book.cover["bank balance"])) < Decimal(coming[-1]["amount"])


def sees_slow_stock(files: Files, trouble: Trouble) -> bool:
    sold = sum(row.get(trouble.item, 0) for name in ("Families", "Stalls") for row in files.rows(trouble.troop, name))
    return files.expected_on_hand(trouble.troop, 6)[trouble.item] > sold / 6 * 4  # more than the season's last 4 weeks


def sees_about_to_run_out(files: Files, trouble: Trouble) -> bool:
    sold = sum(row.get(trouble.item, 0) for sheet in ("Families", "Stalls") for row in _week(files, trouble, sheet))
    return files.expected_on_hand(trouble.troop, trouble.week)[trouble.item] == 2 and sold > 2


def sees_books_differ(files: Files, trouble: Trouble) -> bool:
    """Their figure moved by something else than what the files of the troop tell: see the test of owed below."""
    off = _theirs_less_ours(files, trouble.troop, trouble.week)
    if trouble.item:
        documents = [row for row in files.feed("supply", trouble.troop) if row["kind"] == "depot"]
        last = [row for row in documents if row["document"] == documents[-1]["document"]]
        return off == -sum(files.price[row["item"]] * int(row["packages"]) for row in last)
    sent = [row for row in files.feed("remittances", trouble.troop) if row["state"] == "cleared"]
    return off == Decimal(sent[-1]["amount"])


def sees_families_behind(files: Files, trouble: Trouble) -> bool:
    paid = Counter[str]()
    owing = {row["Participant"] for row in files.rows(trouble.troop, "Families", 5)}
    for week in range(trouble.week, 7):
        for row in _week(files, trouble, "Families", week):
            paid[row["Participant"]] += bool(row.get("Cash") or row.get("Card"))
    behind = [code for code in owing if not paid[code] and files.owes(trouble.troop, code) > 100]
    return len(behind) == trouble.number


def sees_family_overpaid(files: Files, trouble: Trouble) -> bool:
    return files.owes(trouble.troop, trouble.participant) == -Decimal(trouble.number) / 100


def sees_paid_ahead(files: Files, trouble: Trouble) -> bool:
    owing = {code: files.owes(trouble.troop, code) for code in {row["Participant"] for row in _roster(files, trouble)}}
    paid = Counter[str]()
    for row in files.feed("online_orders", trouble.troop):
        if row["mode"] == "by_hand" and row["state"] == "taken_on":
            paid[row["participant"]] += Decimal(row["goods_amount"])
    return sum(paid[code] > owes >= 0 for code, owes in owing.items()) >= 3


def sees_unregistered_seller(files: Files, trouble: Trouble) -> bool:
    taken = [row for row in files.rows(trouble.troop, "Families") if row["Participant"] == trouble.participant]
    listed = {row["participant"] for row in files.feed("roster", trouble.troop)}
    return sum(taken[0].get(item, 0) for item in files.price) == trouble.number and trouble.participant not in listed


def sees_leaver_with_debt(files: Files, trouble: Trouble) -> bool:
    left = [row["left_on"] for row in files.feed("roster", trouble.troop) if row["participant"] == trouble.participant]
    return (
        ENDS[trouble.week - 1] < as_date(left[0]) <= ENDS[trouble.week]
        and files.owes(trouble.troop, trouble.participant) > 20
    )


def sees_hand_delivered(files: Files, trouble: Trouble) -> bool:
    orders = [row for row in files.feed("online_orders", trouble.troop) if row["mode"] == "by_hand"]
    taken_on = [row for row in orders if row["state"] == "taken_on"]
    return sum(int(row["packages"]) for row in taken_on) >= 96 and len({row["participant"] for row in taken_on}) >= 12


def sees_orders_waiting(files: Files, trouble: Trouble) -> bool:
    last: dict[str, Row] = {}
    for row in files.feed("online_orders", trouble.troop):
        last[row["order"]] = row
    days = {(ENDS[trouble.week] - as_date(row["placed_on"])).days for row in last.values() if row["state"] == "waiting"}
    return {11, 8, 3} <= days


def sees_posted_under_minimum(files: Files, trouble: Trouble) -> bool:
    packages: Counter[str] = Counter()
    for row in files.feed("online_orders", trouble.troop):
        if row["mode"] == "by_post" and row["state"] == "placed":
            packages[row["order"]] += int(row["packages"])
    return sorted(packages.values())[0] == trouble.number < files.season["online"]["ship_minimum"]


def sees_nobody_selling(files: Files, trouble: Trouble) -> bool:
    told = [set(book.sheets) - {"Goals"} for week in range(1, 7) for book in files.of(trouble.troop, week)]
    return told == [{"Stock"}] * 6 and not files.feed("online_orders", trouble.troop)


def sees_tiny_troop(files: Files, trouble: Trouble) -> bool:
    return len(files.feed("roster", trouble.troop)) == 4 and len(_sellers(files, trouble.troop)) == trouble.number


def sees_few_taking_part(files: Files, trouble: Trouble) -> bool:
    return len(files.feed("roster", trouble.troop)) == 27 and len(_sellers(files, trouble.troop)) == trouble.number


def _versions(files: Files, trouble: Trouble) -> list[Workbook]:
    return [book for book in files.workbooks if (book.troop, book.ends) == (trouble.troop, ENDS[trouble.week])]


def _week(files: Files, trouble: Trouble, sheet: str, week: int | None = None) -> list[Row]:
    return [row for book in files.of(trouble.troop, week or trouble.week) for row in book.rows(sheet)]


def _told(files: Files, trouble: Trouble, troop: str, other: str) -> list[int]:
    (book,) = files.of(troop, trouble.week)
    return [row["Packages"] for row in book.rows("Moves") if row["Other troop"] == other]


def _roster(files: Files, trouble: Trouble) -> list[Row]:
    return [{"Participant": row["participant"]} for row in files.feed("roster", trouble.troop)]


def _missing(files: Files, troop: str, week: int) -> Counter[str]:
    """Expected less counted, of the items that were counted and differ."""
    expected = files.expected_on_hand(troop, week)
    (book,) = files.of(troop, week)
    counted = {row["Item"]: row["On hand"] for row in book.rows("Stock") if "On hand" in row}
    return Counter({item: expected[item] - there for item, there in counted.items() if expected[item] != there})


def _sellers(files: Files, troop: str) -> set[str]:
    taken: Counter[str] = Counter()
    for row in files.rows(troop, "Families"):
        taken[row["Participant"]] += sum(row.get(item, 0) for item in files.price)
    stood = {code for row in files.rows(troop, "Stalls") for code in re.split(r"[ ,;]+", row["Participants"])}
    none = {"waiting", "refused", "withdrawn"}
    online = {row["participant"] for row in files.feed("online_orders", troop) if row["state"] not in none}
    return ({code for code, packages in taken.items() if packages > 0} | stood | online) - {"troop", ""}


def _theirs_less_ours(files: Files, troop: str, week: int) -> Decimal:
    """The organisation's figure less what the files give, added up by other code than the maker's."""
    day = str(ENDS[week])
    latest: dict[tuple[str, str], Row] = {}
    for row in sorted(files.feed("online_orders", troop), key=lambda row: row["state_on"]):
        if row["state_on"] <= day:
            latest[row["order"], row["item"]] = row
    by_state = defaultdict(Decimal)
    packages_by_state: Counter[str] = Counter()
    for row in latest.values():
        by_state[row["state"]] += Decimal(row["goods_amount"])
        packages_by_state[row["state"]] += int(row["packages"])
    remote = ("placed", "sent", "given_instead")
    available: Counter[str] = Counter()
    for row in files.feed("supply", troop):
        sign = {"returned": -1, "exchange": 0}.get(row["kind"], 1)
        available[row["item"]] += sign * int(row["packages"])
    for number in range(1, week + 1):
        for item, packages in files.moved(troop, number):
            available[item] += packages
    sold = 0
    for row in files.rows(troop, "Families", week) + files.rows(troop, "Stalls", week):
        available["GDN"] += row.get("GDN", 0)
        sold += sum(row.get(item, 0) for item in files.price)
    far = sum(packages_by_state[state] for state in remote)
    (listed,) = files.feed("troops", troop)
    average = Decimal(sold + far) / int(listed["divisor"] or len(_sellers(files, troop)))
    tier = [tier for tier in files.season["proceeds"]["tiers"] if tier["from_average"] <= average][-1]
    rate = Decimal(tier["rate"]) + Decimal(listed["extra_rate"] or 0)
    charged = sum(files.price[item] * count for item, count in available.items()) + sum(by_state[s] for s in remote)
    paid = sum(by_state[state] for state in (*remote, "taken_on", "done"))
    paid += sum(Decimal(row["amount"]) for row in files.feed("remittances", troop) if row["state"] == "cleared")
    paid += sum(money(row, "amount") for row in files.feed("adjustments", troop))
    ours = (charged - rate * (available.total() + far) - paid).quantize(Decimal("0.01"))
    (theirs,) = [row["owed"] for row in files.feed("organisation_balance", troop) if row["on"] == day]
    return Decimal(theirs) - ours


def _remitted(files: Files, troop: str, week: int) -> Decimal:
    rows = files.feed("remittances", troop)
    cleared = [row for row in rows if row["state"] == "cleared" and row["state_on"] <= str(ENDS[week])]
    return sum((Decimal(row["amount"]) for row in cleared), Decimal(0))


CLEAN = sorted({code for code, _, _ in demo_warehouse.area.TROOPS} - TROUBLED)


@pytest.mark.parametrize("troop", CLEAN)
def test_a_troop_without_a_trouble_adds_up(files: Files, troop: str) -> None:
    """Counts are what they should be, stalls take what they sold, cash is banked within the next week."""
    assert len(files.of(troop)) == 6
    cash, card, banked = Decimal(0), Decimal(0), Decimal(0)
    for week in range(1, 7):
        assert not _missing(files, troop, week)
        (book,) = files.of(troop, week)
        banked += sum(money(row, "Amount") for row in book.rows("Banked"))
        assert banked >= cash, "last week's cash is in the bank"
        card += sum(money(row, "Card") for row in book.rows("Families") + book.rows("Stalls"))
        assert banked + card >= _remitted(files, troop, week), "nobody sends what is not there"
        cash += sum(money(row, "Cash") for row in book.rows("Families") + book.rows("Stalls"))
        assert banked <= cash
        for row in book.rows("Stalls"):
            assert money(row, "Cash") + money(row, "Card") == files.worth(row)
    for row in files.feed("roster", troop):
        assert files.owes(troop, row["participant"]) >= 0, "nobody paid more than the packages cost"
    assert _theirs_less_ours(files, troop, 6) == 0


def test_rows_keep_to_the_contract(files: Files) -> None:
    """Dates lie in their weeks, a negative amount has its note, packages are whole numbers, known items only."""
    for book in files.workbooks:
        starts = book.ends - timedelta(days=6)
        for sheet in ("Stalls", "Banked", "Moves"):
            assert all(starts <= as_date(row["Date"]) <= book.ends for row in book.rows(sheet))
        for row in book.rows("Families") + book.rows("Stalls") + book.rows("Banked"):
            amounts = [row.get(name, 0) for name in ("Cash", "Card", "Amount")]
            assert min(amounts) >= 0 or row.get("Note") or row.get("Kind")  # a fee is negative by nature
        if not book.is_faulty:
            assert all(isinstance(row.get(item, 0), int) for row in book.rows("Families") for item in files.price)
            assert {row["Item"] for row in book.rows("Stock")} <= set(files.stocked)
            people = [row["Participant"] for row in book.rows("Families")]
            assert len(people) == len(set(people))
        assert (book.cover.get("bank balance") or 0) >= 0
    for row in files.feeds["online_orders"]:
        assert row["placed_on"] <= row["state_on"] <= str(ENDS[6])
        assert Decimal(row["goods_amount"]) == files.price[row["item"]] * int(row["packages"])


def test_the_feeds_of_the_earlier_week_know_nothing_of_the_last(folder: Path) -> None:
    earlier, later = folder / "inbox" / "feeds", folder / "inbox" / "week-6" / "feeds"
    for name, day in (("online_orders", "state_on"), ("supply", "date"), ("remittances", "state_on")):
        before, after = (csv_rows(place / f"{name}.csv") for place in (earlier, later))
        assert [row for row in after if row[day] <= str(ENDS[5])] == before


def test_a_plain_troop_owes_what_a_pencil_says() -> None:
    """24 bags at 7.00 supplied, 10 handed out and 4 sold, an order of 4 posted, 50.00 cleared and 20.00 not yet.

    Charged 28 x 7.00 = 196.00; one took, one stood at the stall: 18 / 2 = 9 each, so proceeds are 0.65 x 28 = 18.20;
    credits 28.00 + 50.00; 196.00 - 18.20 - 78.00 = 99.80.
    """
    report = Report("0117", 1, ENDS[1], "somebody", ENDS[1])
    report.families = [FamilyRow("0117-01", {"GLA": 10})]
    report.stalls = [Stall(ENDS[1], "", "somewhere", {"GLA": 4}, 2800, 0, ("0117-02",))]
    books = open_books([("0117", "", "")], [report])["0117"]
    books.supplies = [Supply("D1", "0117", "GLA", ENDS[1], 24, "opening")]
    books.orders = [Order("O1", "0117", "0117-01", ENDS[1], "by_post", {"GLA": 4}, 650, [("placed", ENDS[1])])]
    cleared, pending = [("pending", ENDS[1], ""), ("cleared", ENDS[1], "")], [("pending", ENDS[1], "")]
    books.remittances = [
        Remittance("R1", "0117", ENDS[1], 5000, cleared),
        Remittance("R2", "0117", ENDS[1], 2000, pending),
    ]
    owed = books.owed_on(ENDS[1])
    assert (owed.charged, owed.proceeds, owed.credits, owed.owed) == (19600, 1820, 7800, 9980)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(troops=st.integers(1, 8), weeks=st.integers(1, 7), seed=st.integers(0, 10**6), goes_wrong=st.booleans())
def test_small_seasons_begin_the_same_however_far_they_go(
    tmp_path_factory: pytest.TempPathFactory, troops: int, weeks: int, seed: int, goes_wrong: bool
) -> None:
    """A week's rows do not change when later weeks follow; without troubles every count is as expected."""
    short, long = tmp_path_factory.mktemp("short"), tmp_path_factory.mktemp("long")
    sizes: Row = {"troops": troops, "weeks": weeks + 1, "seed": seed, "formats": "bulk-csv", "troubles": False}
    demo_warehouse.make(short, until_week=weeks, **sizes)
    demo_warehouse.make(long, until_week=weeks + 1, **sizes)
    for path in (short / "inbox" / "bulk-2").iterdir():
        before, after = csv_rows(path), csv_rows(long / "inbox" / "bulk-2" / path.name)
        assert before == [row for row in after if row["week_ending"] <= str(ENDS[weeks])]
    if goes_wrong:
        demo_warehouse.make(tmp_path_factory.mktemp("wrong"), until_week=weeks, **(sizes | {"troubles": True}))


def test_a_small_area_has_troubles_of_its_own() -> None:
    found = [trouble for seed in range(40) for trouble in demo_warehouse.troubles_of(troops=5, until_week=4, seed=seed)]
    assert {trouble.kind for trouble in found} == set(KINDS)


def test_an_inbox_is_never_written_over(folder: Path) -> None:
    with pytest.raises(FileExistsError, match="name another folder"):
        demo_warehouse.make(folder)


@pytest.mark.parametrize("wrong", [{"troops": 0}, {"until_week": 11}, {"formats": "paper"}])
def test_sizes_that_make_no_season_are_refused(tmp_path: Path, wrong: Row) -> None:
    with pytest.raises(ValueError, match=r"a season has|formats is one of"):
        demo_warehouse.make(tmp_path, **wrong)


def test_who_waits_is_told_how_far_it_is(tmp_path: Path) -> None:
    said: list[tuple[int, int, str]] = []
    demo_warehouse.make(
        tmp_path, troops=2, until_week=2, progress=lambda done, total, what: said.append((done, total, what))
    )
    assert said[-1][0] == said[-1][1] == len(said)
    assert any(what.endswith(".xlsx") for _, _, what in said)
