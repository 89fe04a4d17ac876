"""What a person sees of a cell otherwise than it is stored is asked about, and never counted as something else."""

import io
from pathlib import Path

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.styles import Font

from pipelines.definitions.season import read_season
from pipelines.definitions.starter_season import starter_season
from pipelines.intake.files.readers import Reader
from pipelines.intake.files.shown import unit_beside, unit_of
from pipelines.intake.judging.judge import Fault, judge_money, judge_packages

CALC = Path(__file__).parents[1] / "fixtures" / "calc"
SEASON = read_season(starter_season())


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        ("General", ("", "")), ("0", ("", "")), ("#,##0.00", ("", "")), ('_-* #,##0.00_-', ("", "")),
        ("yyyy-mm-dd", ("", "")), ("hh:mm", ("", "")), ("@", ("", "")), ("(0.00)", ("", "")), ("[Red]0", ("", "")),
        ("0.00E+00", ("", "")), ('0" cases"', ("", " cases")), (r"0\ \p\k\g", ("", " pkg")),
        ("[$€-407]#,##0.00", ("€", "")), ('#,##0.00 "€"', ("€", "")), ('"$"#,##0.00', ("$", "")), ("£0", ("£", "")),
        ("0%", ("", "%")), ("0,", ("", " thousand")), ("[$CHF-807] 0", ("CHF", "")),
    ],
)  # fmt: skip
def test_what_a_number_format_adds(code: str, unit: tuple[str, str]) -> None:
    assert unit_of(code) == unit


@pytest.fixture(scope="module")
def cells(tmp_path_factory: pytest.TempPathFactory) -> list[object]:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    struck, raised = InlineFont(strike=True), InlineFont(vertAlign="superscript")
    sheet["A1"] = CellRichText(TextBlock(struck, "15"), "12")
    sheet["A2"] = CellRichText("2", TextBlock(raised, "1"))
    sheet["A3"], sheet["A3"].number_format = 5, '0" cases"'
    sheet["A4"], sheet["A4"].number_format = 12.5, "[$€-407]#,##0.00"
    sheet["A5"], sheet["A5"].font = 15, Font(strike=True)
    sheet["A6"], sheet["A6"].number_format = 7, "#,##0.00"
    sheet["A7"], sheet["A7"].number_format = -3.1, '"$"#,##0.00'
    sheet["A8"] = CellRichText(TextBlock(InlineFont(b=True), "bold"), " and plain")
    sheet["A9"], sheet["A9"].font = 9, Font(bold=True)
    out = io.BytesIO()
    book.save(out)
    path: Path = tmp_path_factory.mktemp("shown") / "shown.xlsx"
    path.write_bytes(out.getvalue())
    with Reader() as reader:
        rows = reader.read(path, path.name).sheets[0].rows
    assert rows is not None
    return [row[0] for row in rows]


def test_cells_as_they_are_seen(cells: list[object]) -> None:
    assert cells == ["~~15~~12", "2^1", "5 cases", "€12.50", "~~15~~", 7, "-$3.10", "bold and plain", 9]


@pytest.mark.parametrize("kind", ["ods", "xls"])
def test_other_kinds_of_workbooks_are_seen_alike(kind: str, cells: list[object]) -> None:
    """The same sheet, opened in LibreOffice Calc 7.4 and saved as each kind."""
    with Reader() as reader:
        rows = reader.read(CALC / f"shown.{kind}", f"shown.{kind}").sheets[0].rows
    assert rows is not None
    assert [row[0] for row in rows] == cells


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("5", ("", "")), ("1,234.50", ("", "")), ("1.234,50 €", ("€", "")), ("$-", ("$", "")), ("-$3.10", ("$", "")),
        ("(3.10)", ("", "")), ("5 cases", ("", " cases")), ("15%", ("", "%")), ("1.5E+10", ("", "")), (" - ", ("", "")),
        ("1 234", ("", "")), ("about 5", ("", " about")), ("", ("", "")),
    ],
)  # fmt: skip
def test_what_stands_beside_a_number(text: str, unit: tuple[str, str]) -> None:
    assert unit_beside(text) == unit


def test_none_of_them_counts_as_something_else(cells: list[object]) -> None:
    assert all(isinstance(judge_packages(cells[k]), Fault) for k in (0, 1, 2, 3, 4, 6))
    assert isinstance(judge_money(cells[3], SEASON), Fault)  # euros in a season of dollars
    assert judge_money("$3.10", SEASON) == judge_money(3.1, SEASON)
