"""The copy that goes back: notes on cells, nothing but values, and the same verdict when it comes in again."""

import io
import random
import zipfile
from datetime import date, datetime, time
from pathlib import Path

import openpyxl
import pytest
from made_files import written
from trial import FEEDS, SEASON, Trial

from pipelines.definitions.records import CellFault, Finding, Sheet
from pipelines.definitions.season import read_season
from pipelines.intake.files.readers import Reader
from pipelines.messages.finding_lines import Question
from pipelines.reports.findings_returned import of_preview
from pipelines.reports.marked_up import MOST_CELLS, marked_up
from pipelines.workflow.preview import Preview, preview

TROOPS = ["0417", "0031"]
COVER = [["troop", "0417"], ["week ending", date(2027, 2, 14)]]
FAULTY = {
    "Cover": COVER,
    "Stock": [["Item", "Received", "Damaged", "On hand"], ["GLA", 12, None, "a few"], ["HRB", 0, -1, "many"]],
    "Families": [["Participant", "GLA", "HRB", "Cash", "Note"], ["0417-01", 2, "3.5", "1.234,50", "=1+1"]],
    "Our own sheet": [["=HYPERLINK(\"http://x.example\")", "@SUM(A1)", "+1"]],
}  # fmt: skip
FIXTURES = Path(__file__).parents[1] / "fixtures" / "calc"


def judged(payload: bytes, folder: Path, name: str = "week.xlsx") -> Preview:
    path = folder / name
    path.write_bytes(payload)
    return preview(read_season(SEASON), TROOPS, path, name)


def copied(payload: bytes, folder: Path, name: str = "week.xlsx") -> bytes:
    return of_preview(name, judged(payload, folder, name)).copy()


def test_each_finding_is_a_note_on_its_coloured_cell(tmp_path: Path) -> None:
    book = openpyxl.load_workbook(io.BytesIO(copied(written(FAULTY), tmp_path)))
    assert book.sheetnames == ["To mend", "Cover", "Stock", "Families", "Our own sheet"]
    noted = {f"{s.title} {c.coordinate}" for s in book for row in s.iter_rows() for c in row if c.comment}
    assert noted == {"Stock D2", "Stock D3", "Stock C3", "Families C2", "Families D2"}
    cell = book["Stock"]["D2"]
    assert cell.value == "a few"
    assert cell.fill.start_color.rgb == "FFFFD8C2"
    assert cell.comment.text == (
        "To mend: found a few; expected a whole number of packages, 0 or more. Type the number of packages, such as 12."
    )
    assert "In place of 1.234,50 type 1234.50." in book["Families"]["D2"].comment.text
    assert book["Stock"]["B2"].comment is None
    assert book["Cover"]["B2"].value == datetime(2027, 2, 14)  # noqa: DTZ001 - a day, as the file has it


def test_the_first_sheet_lists_everything_with_links(tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(io.BytesIO(copied(written(FAULTY), tmp_path)))["To mend"]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=6)]
    assert ["To mend", "Stock, C3 and D2 to D3"] in [row[:2] for row in rows]
    assert ["To know", "Our own sheet"] in [row[:2] for row in rows]
    assert sheet["B6"].hyperlink.location.startswith("'Stock'!")
    assert "a copy of week.xlsx" in sheet["A2"].value


def test_no_cell_becomes_a_formula_and_no_link_is_made(tmp_path: Path) -> None:
    """Text that looks like a formula stays text; nothing of the file's own parts is carried over."""
    payload = copied(written(FAULTY), tmp_path)
    book = openpyxl.load_workbook(io.BytesIO(payload))
    assert [cell.data_type for cell in book["Our own sheet"][1]] == ["s", "s", "s"]
    assert book["Families"]["E2"].data_type == "s"
    with zipfile.ZipFile(io.BytesIO(payload)) as packed:
        assert not [name for name in packed.namelist() if "external" in name.lower() or "vba" in name.lower()]
        assert b"http://x.example" not in b"".join(
            packed.read(name) for name in packed.namelist() if name.endswith(".rels")
        )


def test_an_error_and_a_formula_without_value_are_refused_again(tmp_path: Path) -> None:
    """They are written as errors: left empty they would count as nothing, as text they could pass for a code."""
    sheets = [
        Sheet("Cover", [*map(list, COVER)]),
        Sheet("Stock", [["Item", "On hand"], ["GLA", CellFault("#REF!", "error")], [CellFault("=X9", "no value"), 3]]),
    ]
    (tmp_path / "copy.xlsx").write_bytes(marked_up("week.xlsx", sheets, []))
    with Reader() as reader:
        stock = reader.read(tmp_path / "copy.xlsx", "copy.xlsx").sheets[2]
    assert stock.rows == [
        ["Item", "On hand"], ["GLA", CellFault("#REF!", "error")], [CellFault("#N/A", "error"), 3],
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
def test_the_copy_sent_back_unmended_gets_the_same_verdict(kind: str, tmp_path: Path) -> None:
    """Whatever the kind of file: the same cells are named, and its own first sheet is passed over without a word."""
    payload = (FIXTURES / f"0417 with faults.{kind}").read_bytes()
    before = judged(payload, tmp_path, f"week.{kind}")
    after = judged(of_preview(f"week.{kind}", before).copy(), tmp_path, "back.xlsx")
    assert before.is_held

    def to_mend(one: Preview) -> set[tuple[str, str]]:
        return {(found.sheet, found.cell) for found in one.findings if not found.is_note}

    assert to_mend(after) == to_mend(before)
    assert not [found for found in after.findings if "To mend" in found.found]
    again = openpyxl.load_workbook(io.BytesIO(of_preview("back.xlsx", after).copy()))
    assert [title for title in again.sheetnames if title.startswith("To mend")] == ["To mend"]


def test_a_mended_copy_is_taken_in(trial: Trial) -> None:
    """The leader types over the coloured cells and sends the copy."""
    sheets = {"Cover": COVER, "Stock": [["Item", "On hand"], ["GLA", "a few"]]}
    book = openpyxl.load_workbook(io.BytesIO(copied(written(sheets), trial.folder)))
    book["Stock"]["B2"] = 7
    path = trial.folder / "mended.xlsx"
    book.save(path)
    (outcome,) = trial.take_in(path)
    assert (outcome.status, outcome.findings) == ("taken in", [])


def test_good_cells_come_back_as_they_were(tmp_path: Path) -> None:
    """Whatever a reader may hand over: numbers, days, times, yes and no, text of all scripts, long and odd ones."""
    dice = random.Random(7)  # noqa: S311 - dice for a test
    values = [0, 12, -3, 2.5, 1e-7, 99999999.99, True, False, date(2027, 2, 14), datetime(2027, 2, 14, 9, 30),  # noqa: DTZ001
              time(9, 30), "0417", "417 ", "Grüße", "李明", "שלום", "'quoted", "=1", "a\nb"]  # fmt: skip
    rows = [[dice.choice([*values, None]) for _ in range(8)] for _ in range(40)]
    (tmp_path / "copy.xlsx").write_bytes(marked_up("x.xlsx", [Sheet("Ours", [list(row) for row in rows])], []))
    with Reader() as reader:
        back = reader.read(tmp_path / "copy.xlsx", "copy.xlsx").sheets[1].rows or []

    def plain(row: list[object]) -> list[object]:
        cut = list(row)
        while cut and cut[-1] is None:
            cut.pop()
        return [datetime(c.year, c.month, c.day) if type(c) is date else c for c in cut]  # noqa: DTZ001

    assert [plain(row) for row in back] == [plain(row) for row in rows]


def test_the_same_file_gives_the_same_copy(tmp_path: Path) -> None:
    assert copied(written(FAULTY), tmp_path) == copied(written(FAULTY), tmp_path)


ODD = [
    ("names no workbook allows", [Sheet("a/b:c*[d]?", [["x"]]), Sheet("a_b_c__d__", [["y"]]), Sheet("", [["z"]])]),
    ("a name of 200 characters, twice", [Sheet("n" * 200, [["x"]]), Sheet("n" * 199, [["y"]])]),
    ("what no character is", [Sheet("S", [["\ud800 lone", "\x00\x07 control", "￾"]])]),
    ("numbers no cell holds", [Sheet("S", [[10**400, float("nan"), float("inf"), -1e300]])]),
    ("days no cell holds", [Sheet("S", [[date(1, 1, 1), datetime(1900, 1, 1)]])]),  # noqa: DTZ001
    ("far too long a text", [Sheet("S", [["x" * 100_000]])]),
    ("more cells than a workbook of a troop has", [Sheet("S", [[1] * 1000 for _ in range(MOST_CELLS // 1000 + 1)])]),
    ("no sheets at all", []),
]


@pytest.mark.parametrize(("what", "sheets"), ODD, ids=[what for what, _ in ODD])
def test_nothing_that_was_read_stops_the_copy(what: str, sheets: list[Sheet]) -> None:
    """A workbook comes out that opens and lists what was found."""
    found = [Finding(sheets[0].name if sheets else "", "A1", "x\ud800" * 900, "y", "z"), Finding("", "", "f", "e", "h"),
             Finding("S", "XFD1048576", "f", "e", "h"), Finding("S", "ZZZ9999999", "f", "e", "i")]  # fmt: skip
    book = openpyxl.load_workbook(io.BytesIO(marked_up("w\ud800.xlsx", sheets, found)))
    assert book.sheetnames[0] == "To mend"
    assert len([row for row in book["To mend"].iter_rows(min_row=6) if row[0].value]) == 4
    is_copied = bool(sheets) and what != "more cells than a workbook of a troop has"
    assert len(book.sheetnames) == 1 + len(sheets) * is_copied


def test_a_question_is_a_note_of_its_own_colour(tmp_path: Path) -> None:
    sheets = [Sheet("Stock", [["Item", "On hand"], ["GLA", 3]])]
    asked = [Question("Are the 3 cases?", (("Stock", "B2"),))]
    book = openpyxl.load_workbook(io.BytesIO(marked_up("week.xlsx", sheets, [], asked)))
    assert book["Stock"]["B2"].comment.text == "A question: Are the 3 cases?"
    assert [cell.value for cell in book["To mend"][6]][:2] == ["A question", "Stock, B2"]


def test_a_csv_keeps_its_places(trial: Trial) -> None:
    """A table of text is copied too, each record in the row that names it."""
    path = trial.folder / "stock.csv"
    path.write_text("troop,week_ending,item,on_hand\n0417,2027-02-14,GLA,a few\n", encoding="utf-8")
    trial.send(**FEEDS)
    with Reader() as reader:
        sheets = reader.read(path, path.name).sheets
    book = openpyxl.load_workbook(io.BytesIO(marked_up("stock.csv", sheets, [Finding("", "D2", "a few", "e", "h")])))
    assert [cell.value for cell in book["Table"][2]] == ["0417", "2027-02-14", "GLA", "a few"]
    assert book["Table"]["D2"].comment.text == "To mend: found a few; expected e. h"
