"""A troop's workbook: what each cell may be, with the sheet and cell that a finding names; held or accepted as a whole.

Every case is one right workbook with a few cells put in; all are taken in at once.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import openpyxl
import pytest
import season_files
from trial import FEEDS, Trial

from pipelines.workflow.take_in import Outcome

SHEETS: dict[str, list[list[object]]] = {
    "Cover": [["Troop", "0417"], ["Week ending", date(2027, 2, 14)], ["Prepared by", "leader"],
              ["Bank balance", 120.5], ["Balance on", date(2027, 2, 13)], ["Note", None]],
    "Stock": [["Item", "Received", "Damaged", "On hand"], ["GLA", 48, 0, 20], ["HRB", 24, None, 11]],
    "Families": [["Participant", "GLA", "HRB", "Cash", "Card", "Note"], ["0417-01", 3, None, 12, 5.5, None],
                 ["troop", 1, 1, None, None, None]],
    "Stalls": [["Date", "Start", "Place", "GLA", "GIV", "Cash", "Card", "Participants", "Note"],
               [date(2027, 2, 13), time(9, 30), "Market", 4, 1, 30, None, "0417-01, 0417-02", None]],
    "Banked": [["Date", "Amount", "Slip", "Note"], [date(2027, 2, 14), 40, "S1", None]],
    "Moves": [["Date", "Item", "Packages", "Direction", "Other troop"], [date(2027, 2, 10), "GLA", 2, "out", "1282"]],
    "Goals": [["Participant", "Goal"], ["0417-01", 40]],
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """Cells put into a right workbook, such as {"Stock D2": 4.5}; `mends`: the places that are told, in any order."""

    cells: dict[str, object]
    mends: dict[str, str] = field(default_factory=dict)  # "Stock D2": what is found there
    notes: tuple[str, ...] = ()
    without: str = ""

    def __str__(self) -> str:
        return ", ".join(f"{place}={value}" for place, value in self.cells.items()) or f"without {self.without}"


def bad(**cells: object) -> Case:
    """Cells each of which is told, as it stands; Stock_D2=4.5."""
    places = {name.replace("_", " "): value for name, value in cells.items()}
    return Case(places, {place: str(value) for place, value in places.items()})


def good(**cells: object) -> Case:
    """Cells of which nothing is told."""
    return Case({name.replace("_", " "): value for name, value in cells.items()})


CASES = [
    good(),
    # numbers as a spreadsheet stores them
    bad(Stock_D2=4.5), good(Stock_D2=4.0), good(Stock_D2="4"), good(Stock_D2=None), bad(Stock_D2=-1),
    good(Stock_D2="\u00a012\u00a0"), good(Stock_D2="\uff11\uff12"), bad(Stock_D2="'12"), bad(Stock_D2="12²"),
    bad(Stock_C2="two"), bad(Stock_D2=100_001), good(Stock_D2=100_000), Case({"Stock D2": True}, {"Stock D2": "True"}),
    good(Families_B2=-3), bad(Families_B2=2.5), bad(Stalls_D2=-1), bad(Goals_B2=-1), bad(Moves_C2="two"),
    bad(Banked_B2=12.345), good(Banked_B2="$1,234.50"), bad(Banked_B2="1.234,50"), good(Banked_B2=0.1 + 0.2),
    bad(Families_D2=10_000_001), Case({"Banked B2": None}, {"Banked B2": "an empty cell"}),
    # a negative amount needs its note
    bad(Families_D2=-5), good(Families_D2=-5, Families_F2="refund"), bad(Stalls_F2=-5),
    good(Stalls_F2=-5, Stalls_I2="x"), bad(Banked_B2=-5), good(Banked_B2=-5, Banked_D2="bank fee"), bad(Cover_B4=-5),
    good(Cover_B4=-5, Cover_B6="overdrawn"),
    # a label that was mistyped is told; any other word on the cover is nobody's business
    Case({"Cover A4": "Bank balanc"}, {"Cover A4": "Bank balanc"}),
    Case({"Cover A4": "Account balance"}, {"Cover A4": "Account balance"}),
    good(Cover_A8="Thank you", Cover_B8="for everything"),
    # days
    good(Cover_B2="2027-02-14"), good(Cover_B2=datetime(2027, 2, 14)), bad(Cover_B2="14/02/2027"),  # noqa: DTZ001
    bad(Cover_B2=46432), Case({"Cover B2": date(2027, 2, 13)}, {"Cover B2": "2027-02-13"}),
    Case({"Cover B2": None}, {"Cover B2": "an empty cell"}),
    Case({"Stalls A2": date(2027, 2, 15)}, {"Stalls A2": "2027-02-15"}), good(Stalls_A2=date(2027, 2, 1)),
    Case({"Banked A2": date(2027, 2, 15)}, {"Banked A2": "2027-02-15"}),
    Case({"Moves A2": date(2027, 2, 7)}, {"Moves A2": "2027-02-07"}), good(Moves_A2=date(2027, 2, 8)),
    good(Cover_B5=date(2027, 2, 16)),  # read two days after the week: the bank's word on a later day
    # codes
    Case({"Cover B1": 417}, notes=("Cover B1",)), Case({"Cover B1": "417"}, notes=("Cover B1",)),
    bad(Cover_B1="9999"), Case({"Cover B1": None}, {"Cover B1": "an empty cell"}),
    bad(Moves_E2="0417"), good(Moves_E2="Outside"), bad(Moves_E2="9999"), Case({"Moves E2": 31}, notes=("Moves E2",)),
    bad(Stock_A3="TUL"), bad(Stock_A3="GIV"), bad(Moves_B2="GIV"), good(Stock_A3="hrb"), good(Families_A2="0417-77"),
    # packages under an unknown header would vanish
    Case({"Families G1": "TUL", "Families G2": 4}, {"Families G1": "TUL"}), good(Families_G1="TUL"),
    Case({"Stalls J1": "TUL", "Stalls J2": 4}, {"Stalls J1": "TUL"}), good(Stalls_J1="TUL"),
    Case({"Families G1": "gla", "Families G2": 4}, {"Families G1": "a second"}),
    Case({"Families G1": "Cash", "Families G2": 4}, {"Families G1": "Cash"}),
    Case({"Families G2": 4}, {"Families G1": "no header over filled cells"}),
    # a formula's stored value counts; an error, or none, is told
    Case({"Stock D2": "=12+8"}, {"Stock D2": "=12+8"}), Case({"Families B2": "=1+1"}, {"Families B2": "=1+1"}),
    Case({"Stock D2": "#REF!"}, {"Stock D2": "#REF!"}), Case({"Families D2": "#DIV/0!"}, {"Families D2": "#DIV/0!"}),
    Case({"Cover A4": "#N/A"}, {"Cover A4": "#N/A"}),
    # one row for each
    Case({"Families A3": "0417-01"}, {"Families A3": "0417-01 a second time"}),
    Case({"Families A3": "0417-01", "Families B3": 3, "Families C3": None, "Families D3": 12, "Families E3": 5.5},
         {"Families A3": "0417-01 a second time, alike"}),
    Case({"Stock A3": "GLA"}, {"Stock A3": "GLA a second time"}),
    Case({"Stock A3": "GLA", "Stock B3": 48, "Stock C3": 0, "Stock D3": 20},
         {"Stock A3": "GLA a second time, alike"}),
    # what must be there, and all that is wrong at once
    Case({}, {" ": "no sheet named Stock"}, ("Stock ",), without="Stock"),
    Case({}, {" ": "no sheet named Cover"}, without="Cover"), Case({}, without="Families"),
    bad(Stock_D2=4.5, Stock_D3=-1, Families_B2="x", Stalls_F2="much", Banked_B2=1.001, Goals_B2=0.5, Cover_B4="a lot"),
]  # fmt: skip


def write(path: Path, case: Case) -> None:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in SHEETS.items():
        if name != case.without:
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
    for place, value in case.cells.items():
        name, cell = place.split()
        book[name][cell].number_format = "General"
        book[name][cell] = value
        if isinstance(value, str) and value.startswith("#"):
            book[name][cell].data_type = "e"
    book.save(path)


def test_merged_headers_and_hidden_rows(trial: Trial, tmp_path: Path) -> None:
    """A title merged over the header is passed over; a header merged over two columns names the first; hidden rows and
    columns count like the others."""
    write(tmp_path / "0417.xlsx", Case({}))
    book = openpyxl.load_workbook(tmp_path / "0417.xlsx")
    stock = book["Stock"]
    stock.insert_rows(1)
    stock["A1"] = "What we hold"
    stock.merge_cells("A1:D1")
    stock.row_dimensions[3].hidden = True
    stock.column_dimensions["D"].hidden = True
    book["Banked"]["E2"] = 7
    book["Banked"].merge_cells("D1:E1")
    book.save(tmp_path / "0417.xlsx")
    (one,) = trial.take_in(tmp_path / "0417.xlsx")
    assert (one.status, [(f.sheet, f.cell, f.is_note) for f in one.findings]) == ("taken in", [("Banked", "E1", True)])
    assert trial.standing("0417", date(2027, 2, 14))["on_hand"] == "31"


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Outcome]:
    folder = tmp_path_factory.mktemp("workbooks")
    trial = Trial(folder)
    trial.send(**FEEDS)
    (folder / "in").mkdir()
    for number, case in enumerate(CASES):
        write(folder / f"in/{number}.xlsx", case)
        # Workbooks of one troop and week in one go: that each counts for itself is told by when it was saved.
        season_files.stamp(folder / f"in/{number}.xlsx", datetime(2027, 2, 15, tzinfo=UTC) + timedelta(hours=number))
    return {one.name: one for one in trial.take_in(folder / "in")}


@pytest.mark.parametrize(("number", "case"), [*enumerate(CASES)], ids=str)
def test_each_cell_that_is_wrong_is_named(outcomes: dict[str, Outcome], number: int, case: Case) -> None:
    """What is wrong is told with sheet, cell and what stands there, and nothing else; the workbook is held whole."""
    outcome = outcomes[f"in/{number}.xlsx"]
    told = {f"{one.sheet} {one.cell}": one.found for one in outcome.findings if not one.is_note}
    assert {place: found[: len(case.mends.get(place, found))] for place, found in told.items()} == case.mends
    assert len(told) == len([one for one in outcome.findings if not one.is_note])
    notes = [one for one in outcome.findings if one.is_note and "same batch" not in one.found]
    assert tuple(f"{one.sheet} {one.cell}" for one in notes) == case.notes
    assert outcome.status == ("held" if case.mends else "taken in")
    assert outcome.rows_held == (outcome.rows if case.mends else 0)
