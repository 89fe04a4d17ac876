"""The form: filled in by a real spreadsheet program and taken back without a finding, cell for cell."""

import io
import random
from datetime import date, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import season_files
import seasons
from calc import Typed, fill
from trial import SEASON, Trial

from pipelines.definitions.form_columns import is_help
from pipelines.reports.form import HEAD, STALLS, form
from pipelines.reports.form_drawing import LISTS
from pipelines.reports.rollup import week_of
from pipelines.store import engine

SEED = 11


@pytest.fixture(scope="module")
def made() -> seasons.Made:
    return seasons.make(SEED, troops=3, weeks=3)


@pytest.fixture(scope="module")
def trial(made: seasons.Made, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A book in which three weeks are over."""
    folder = tmp_path_factory.mktemp("season")
    one = Trial(folder, made.text)
    (folder / "tables").mkdir()
    season_files.write_csvs(folder / "tables", made.tables)
    one.take_in(folder / "tables")
    return one


def next_week(made: seasons.Made) -> date:
    return made.weeks[-1] + timedelta(weeks=1)


def form_of(trial: Trial, made: seasons.Made, troop: str) -> bytes:
    with week_of(trial.book, made.weeks[-1]) as before:
        return form(before, troop, next_week(made))


def copied(trial: Trial, folder: Path) -> Trial:
    """The same book once more, to take something in that the other is not to see."""
    return trial.copied_to(folder)


def landed(trial: Trial, table: str, troop: str, week: date) -> list[dict[str, Any]]:
    query = f"select * from landed.{table} where troop = ? and week_ending = ? order by row_no"  # noqa: S608 - names of the contract
    with trial.book.reading() as con:
        return engine.rows(con, query, [troop, week])


class RandomWeek:
    """A valid week, as cells to type and as the rows that they must become."""

    def __init__(self, made: seasons.Made, troop: str, people: list[str], others: list[str]) -> None:
        self.dice = random.Random(SEED)  # noqa: S311 - dice for a test
        self.typed: list[Typed] = [
            Typed("Cover", "B3", "Ana-Lucía Прист", is_text=True),
            Typed("Cover", "B5", "1234.50"),
            Typed("Cover", "B6", next_week(made).isoformat()),
        ]
        self.items = [item["code"] for item in made.rules["items"]]
        self.stocked = [item["code"] for item in made.rules["items"] if item.get("stocked", True)]
        self.last_day = next_week(made)
        self.stock: dict[str, tuple[int | None, int | None, int | None]] = {}
        self.families: dict[str, tuple[dict[str, int], Decimal, Decimal]] = {}
        self.stalls: list[tuple[date, time, str, dict[str, int], Decimal, list[str]]] = []
        self.moves: list[tuple[date, str, int, str, str]] = []
        self.banked: list[tuple[date, Decimal, str]] = []
        for row, code in enumerate(self.stocked, HEAD + 2):
            self.stock[code] = (
                self.dice.choice([None, 12]),
                self.dice.choice([None, 1]),
                self.dice.choice([None, 0, 40]),
            )
            for column, value in zip("BCD", self.stock[code], strict=True):
                if value is not None:
                    self.typed.append(Typed("Stock", f"{column}{row}", value))
        for row, code in enumerate(people, HEAD + 2):
            self._family(row, code)
        for number in range(2):
            self._stall(HEAD + 2 + number, people)
            self._move(HEAD + 2 + number, others)
            self._deposit(HEAD + 2 + number)

    def _letter(self, column: int) -> str:
        return chr(ord("A") + column)

    def _day(self) -> date:
        return self.last_day - timedelta(days=self.dice.randrange(7))

    def _packages(self, sheet: str, row: int, first: int, lowest: int) -> dict[str, int]:
        taken = {code: self.dice.randint(lowest, 9) for code in self.items if self.dice.random() < 0.7}
        for code, number in taken.items():
            self.typed.append(Typed(sheet, f"{self._letter(first + self.items.index(code))}{row}", number))
        return taken

    def _money(self, sheet: str, row: int, column: int) -> Decimal:
        amount = Decimal(self.dice.randrange(10_000)) / 100
        self.typed.append(Typed(sheet, f"{self._letter(column)}{row}", amount))
        return amount

    def _family(self, row: int, code: str) -> None:
        packages = self._packages("Families", row, 1, -2)
        cash = self._money("Families", row, 1 + len(self.items))
        card = self._money("Families", row, 2 + len(self.items))
        self.families[code] = packages, cash, card

    def _stall(self, row: int, people: list[str]) -> None:
        day, start, place = self._day(), time(9 + row, 30), f"=Corner {row}, Mühlgasse"
        workers = self.dice.sample([code for code in people if code != "troop"], 2)
        self.typed += [
            Typed("Stalls", f"A{row}", day.isoformat()),
            Typed("Stalls", f"B{row}", f"{start:%H:%M}"),
            Typed("Stalls", f"C{row}", place, is_text=True),
            Typed("Stalls", f"{self._letter(5 + len(self.items))}{row}", ", ".join(workers), is_text=True),
        ]
        packages = self._packages("Stalls", row, 3, 0)
        self.stalls.append((day, start, place, packages, self._money("Stalls", row, 3 + len(self.items)), workers))

    def _move(self, row: int, others: list[str]) -> None:
        move = self._day(), self.dice.choice(self.stocked), self.dice.randint(1, 9), *self.dice.choice(
            [("in", "outside"), ("out", others[0])]
        )  # fmt: skip
        self.moves.append(move)
        for column, value in zip("ABCDE", move, strict=True):
            self.typed.append(Typed("Moves", f"{column}{row}", value, is_text=column in "BDE"))

    def _deposit(self, row: int) -> None:
        day, amount, slip = self._day(), Decimal(self.dice.randrange(50_000)) / 100, f"00{row}"
        self.banked.append((day, amount, slip))
        for column, value in zip("ABC", (day, amount, slip), strict=True):
            self.typed.append(Typed("Banked", f"{column}{row}", value, is_text=column == "C"))


def people_of(workbook: bytes) -> list[str]:
    sheet = openpyxl.load_workbook(io.BytesIO(workbook))["Families"]
    return [str(cell.value) for cell in sheet["A"][HEAD + 1 :] if cell.value]


def test_a_form_filled_in_by_calc_comes_back_cell_for_cell(trial: Trial, made: seasons.Made, tmp_path: Path) -> None:
    troop, others = made.troops[0], made.troops[1:]
    blank = form_of(trial, made, troop)
    (tmp_path / "form.xlsx").write_bytes(blank)
    week = RandomWeek(made, troop, people_of(blank), others)
    ask = [("Stock", f"K{HEAD + 2}"), ("Stock", f"M{HEAD + 2}"), ("Cover", "B17")]
    shown = fill(tmp_path / "form.xlsx", week.typed, tmp_path / "filled", ask)
    for ending in ("xlsx", "ods"):
        book = copied(trial, tmp_path / ending)
        outcome = book.take_in(tmp_path / f"filled.{ending}")[0]
        assert (outcome.status, outcome.findings) == ("taken in", []), ending
        _compare(book, week, troop)
    with_cash = sum((cash for _, cash, _ in week.families.values()), Decimal(0)) + sum(s[4] for s in week.stalls)
    assert shown["Cover!B17"] == f"${with_cash:,.2f}"  # the sheet adds up while one types
    standing = book.table("items", week.last_day)[troop, week.stocked[0]]
    counted = week.stock[week.stocked[0]][2]
    words = "not counted" if counted is None else _in_words(counted - int(shown[f"Stock!K{HEAD + 2}"]))
    assert shown[f"Stock!M{HEAD + 2}"] == words
    received, recorded = week.stock[week.stocked[0]][0] or 0, _supplied(made, troop, week)
    expected = int(standing["expected_on_hand"]) + max(received - recorded, 0)  # what came and is not recorded yet
    assert int(shown[f"Stock!K{HEAD + 2}"]) == expected


def _in_words(difference: int) -> str:
    if difference == 0:
        return "agrees"
    return f"{-difference} not accounted for" if difference < 0 else f"{difference} more than should be there"


def _supplied(made: seasons.Made, troop: str, week: RandomWeek) -> int:
    return sum(
        -row["packages"] if row["kind"] == "returned" else row["packages"]
        for row in made.tables["supply"]
        if row["troop"] == troop and row["item"] == week.stocked[0] and 0 <= (week.last_day - row["date"]).days < 7
    )


def _compare(book: Trial, week: RandomWeek, troop: str) -> None:
    """Every cell typed stands in the landed rows, and nothing else does."""
    cover = landed(book, "cover", troop, week.last_day)[0]
    assert (cover["prepared_by"], cover["bank_balance"]) == ("Ana-Lucía Прист", Decimal("1234.50"))
    assert cover["balance_on"] == week.last_day
    stock = {row["item"]: row for row in landed(book, "stock", troop, week.last_day)}
    assert {
        code: (r["received"] or None, r["damaged"] or None, r["on_hand"]) for code, r in stock.items()
    } == week.stock
    taken: dict[str, dict[str, int]] = {code: {} for code in week.families}
    money: dict[str, tuple[Decimal, Decimal]] = {}
    for row in landed(book, "families", troop, week.last_day):
        if row["item"]:
            taken[row["participant"]][row["item"]] = row["packages"]
        else:
            money[row["participant"]] = row["cash"], row["card"]
    assert taken == {code: packages for code, (packages, _, _) in week.families.items()}
    assert money == {code: (cash, card) for code, (_, cash, card) in week.families.items()}
    for day, start, place, packages, cash, workers in week.stalls:
        rows = [row for row in landed(book, "stalls", troop, week.last_day) if row["place"] == place]
        assert {row["item"]: row["packages"] for row in rows if row["item"]} == packages
        assert {(row["date"], row["start"], tuple(row["participants"])) for row in rows} == {
            (day, start, tuple(workers))
        }
        assert sum(row["cash"] or 0 for row in rows) == cash
    moves = landed(book, "moves", troop, week.last_day)
    assert [(r["date"], r["item"], r["packages"], r["direction"], r["other_troop"]) for r in moves] == week.moves
    deposits = landed(book, "banked", troop, week.last_day)
    assert [(row["date"], row["amount"], row["slip"]) for row in deposits] == week.banked


def test_a_form_sent_as_it_is_says_that_nothing_happened(trial: Trial, made: seasons.Made, tmp_path: Path) -> None:
    (tmp_path / "form.xlsx").write_bytes(form_of(trial, made, made.troops[0]))
    book = copied(trial, tmp_path / "copy")
    outcome = book.take_in(tmp_path / "form.xlsx")[0]
    assert (outcome.status, outcome.findings) == ("taken in", [])
    before = book.standing(made.troops[0], made.weeks[-1])
    after = book.standing(made.troops[0], next_week(made))
    assert before["sold_from_stock"] == after["sold_from_stock"]


def test_a_form_of_many_items_says_nothing_of_the_titles_above_their_codes(new_trial: Any, tmp_path: Path) -> None:
    long = "A bag of 12 bulbs whose title is longer than the form has room for above"
    more = "".join(f'[[items]]\ncode = "I{k}"\ntitle = "{long} {k}"\nprice = "1.00"\n\n' for k in range(9))
    trial = new_trial(SEASON.replace("[[proceeds.tiers]]", f"{more}[[proceeds.tiers]]", 1))
    trial.send(troops="troop level\n0417 younger")
    with week_of(trial.book, date(2027, 2, 14)) as before:
        (tmp_path / "form.xlsx").write_bytes(form(before, "0417", date(2027, 2, 21)))
    assert trial.take_in(tmp_path / "form.xlsx")[0].findings == []
    workbook = openpyxl.load_workbook(tmp_path / "form.xlsx")
    workbook["Families"][f"B{HEAD}"] = 4  # what is typed into that row is told of
    workbook.save(tmp_path / "typed over.xlsx")
    [finding] = trial.take_in(tmp_path / "typed over.xlsx")[0].findings
    assert (finding.sheet, finding.found) == ("Families", "a filled row above the header")


def test_the_form_is_the_same_bytes_each_time(trial: Trial, made: seasons.Made) -> None:
    assert form_of(trial, made, made.troops[1]) == form_of(trial, made, made.troops[1])


def test_what_the_form_is_prefilled_with(trial: Trial, made: seasons.Made) -> None:
    troop = made.troops[0]
    workbook = openpyxl.load_workbook(io.BytesIO(form_of(trial, made, troop)))
    assert [workbook["Cover"]["B1"].value, workbook["Cover"]["B2"].value.date()] == [troop, next_week(made)]
    items = trial.table("items", made.weeks[-1])
    for row in workbook["Stock"].iter_rows(min_row=HEAD + 2, values_only=True):
        if row[0]:
            assert row[8] == int(items[troop, str(row[0])]["expected_on_hand"])
    owes = {key[1]: line["owes"] for key, line in trial.table("families", made.weeks[-1]).items() if key[0] == troop}
    sheet = workbook["Families"]
    width = len(made.rules["items"])
    for row in sheet.iter_rows(min_row=HEAD + 2, values_only=True):
        if row[0]:
            assert Decimal(str(row[4 + width])) == Decimal(owes.get(str(row[0]), "0"))
    assert workbook[LISTS].sheet_state == "hidden"


def test_only_cells_to_fill_in_are_open_and_only_our_own_formulas_are_formulas(new_trial: Any) -> None:
    """A title, a code of a participant: whatever a text begins with, it stays a text."""
    hostile = "=HYPERLINK(~http://example.org~)".replace("~", "'")
    season = SEASON.replace("Gladiolus bulbs", hostile)
    trial = new_trial(season)
    trial.send(troops="troop level\n0417 younger", roster="troop participant registered_on\n0417 =1+1 2026-10-01")
    with week_of(trial.book, date(2027, 2, 14)) as before:
        workbook = openpyxl.load_workbook(io.BytesIO(form(before, "0417", date(2027, 2, 21))))
    assert workbook["Stock"][f"E{HEAD + 2}"].data_type == "s"
    assert workbook["Families"][f"A{HEAD + 2}"].value == "=1+1"
    assert workbook["Families"][f"A{HEAD + 2}"].data_type == "s"
    for sheet in workbook.worksheets:
        if sheet.title != LISTS:
            assert sheet.protection.sheet
        assert not sheet._hyperlinks
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f" or cell.protection.locked
    assert not workbook["Stalls"][f"A{HEAD + 1 + STALLS}"].protection.locked


@pytest.mark.parametrize(
    ("sheet", "header", "is_passed_over"),
    [
        ("families", "Owed before", True),
        ("families", "owes_now", True),
        ("families", "Owes", False),
        ("families", "GLAX", False),
        ("families", "Difference", False),
        ("stock", "Difference", True),
        ("banked", "Difference", False),
    ],
)
def test_only_the_forms_own_columns_are_passed_over_without_a_word(
    sheet: str, header: str, is_passed_over: bool
) -> None:
    assert is_help(sheet, header) is is_passed_over


def test_an_item_whose_code_reads_like_a_column_that_helps_is_still_counted(new_trial: Any, tmp_path: Path) -> None:
    trial = new_trial(SEASON.replace('"GLA"', '"OWESNOW"'))
    trial.send(troops="troop level\n0417 younger")
    with week_of(trial.book, date(2027, 2, 14)) as before:
        workbook = openpyxl.load_workbook(io.BytesIO(form(before, "0417", date(2027, 2, 21))))
    sheet = workbook["Families"]
    sheet[f"A{HEAD + 2}"], sheet[f"B{HEAD + 2}"] = "0417-01", 5
    assert sheet[f"B{HEAD + 1}"].value == "OWESNOW"
    workbook.save(tmp_path / "form.xlsx")
    trial.take_in(tmp_path / "form.xlsx")
    assert trial.table("items", date(2027, 2, 21))["0417", "OWESNOW"]["handed_out"] == "5"
