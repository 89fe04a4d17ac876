"""Each kind of file: the cells given, the cells read."""

import csv
import io
import select
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlwt
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_files import (
    DAY,
    MAIN,
    MOMENT,
    SPAN,
    edited,
    ods,
    ods_cell,
    ods_row,
    raw_parts,
    raw_xlsx,
    row,
    written,
    zipped,
)

from pipelines.definitions.records import CellFault, Finding, Reading
from pipelines.intake.files import delimited, xlsx, xlsx_sure
from pipelines.intake.files.archive import Parts
from pipelines.intake.files.readers import Reader, reading_of
from pipelines.intake.files.wire import Answer

# ruff: noqa: DTZ001 - moments in spreadsheets have no zone
CALC = Path(__file__).parents[1] / "fixtures" / "calc"
NOT_A_NUMBER, DIVIDED = CellFault("#N/A", "error"), CellFault("#DIV/0!", "error")


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    with Reader() as one:
        yield one


@pytest.fixture
def read(reader: Reader, tmp_path: Path):
    def take(payload: bytes, name: str) -> Reading:
        landed = tmp_path / "landed"  # as in a book: a file's bytes without its ending
        landed.write_bytes(payload)
        return reader.read(landed, name)

    return take


def rows_of(reading: Reading, sheet: int = 0) -> list[list[object]]:
    assert [f for f in reading.findings if not f.is_note] == []
    rows = reading.sheets[sheet].rows
    assert rows is not None
    return rows


def records_of(reading: Reading) -> list[list[object]]:
    assert [f for f in reading.findings if not f.is_note] == []
    table = reading.sheets[0].table
    assert table is not None
    return [list(record.values()) for record in table.to_pylist()]


def lines_of(reading: Reading) -> list[int] | None:
    numbers = reading.sheets[0].row_numbers
    return None if numbers is None else numbers.to_pylist()


# Workbooks saved by a real spreadsheet program

FIRST_STOCK = [
    ["item", "received", "damaged", "on hand"],
    ["GLA", 48, 1, 32],
    ["DAH", 36, 0, 25],
    ["LIL", 24, 0, 18],
    ["MDW", 24, None, 20],
    ["HRB", 12, None, 12],
    ["SUN", 24, 2, 15],
]


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
def test_a_week_saved_by_calc(reader: Reader, kind: str) -> None:
    reading = reader.read(CALC / f"0417 week 2027-02-14.{kind}", f"week.{kind}")
    assert [s.name for s in reading.sheets] == ["Cover", "Stock", "Families", "Stalls", "Banked", "Moves", "Goals"]
    assert rows_of(reading, 0)[1] == ["week ending", date(2027, 2, 14)]
    assert rows_of(reading, 1) == FIRST_STOCK
    assert rows_of(reading, 2)[2] == ["0417-02", 4, None, 2, 2, None, 2, 19.5, 18, "pays the rest on Friday"]
    assert rows_of(reading, 3)[1][:3] == [date(2027, 2, 13), time(10, 30), "Market hall"]
    assert rows_of(reading, 5)[1] == [date(2027, 2, 12), "HRB", 6, "out", "0206"]


@pytest.mark.parametrize("name", ["0417 week 2027-02-14", "0417 week 2027-02-21", "0417 with faults"])
def test_calc_saves_the_same_cells_in_each_kind(reader: Reader, name: str) -> None:
    sheets = {kind: reader.read(CALC / f"{name}.{kind}", name).sheets for kind in ("xlsx", "ods", "xls")}
    # Calc itself shows what VALUE("dozen") comes to as Err:502 in .ods, and saves it as #VALUE! in the other two.
    for sheet in sheets["ods"]:
        sheet.rows[:] = [[CellFault("#VALUE!", "error") if str(c) == "Err:502" else c for c in r] for r in sheet.rows]
    assert sheets["xlsx"] == sheets["ods"] == sheets["xls"]


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
def test_faults_and_hidden_sheets_saved_by_calc(reader: Reader, kind: str) -> None:
    reading = reader.read(CALC / f"0417 with faults.{kind}", f"faults.{kind}")
    stock, hidden = reading.sheets[1], reading.sheets[2]
    assert [line[3] for line in stock.rows[1:4]] == [DIVIDED, NOT_A_NUMBER, 20]
    assert isinstance(stock.rows[4][3], CellFault)
    assert (hidden.name, hidden.is_hidden, hidden.rows) == ("Hidden", True, [["item", "on hand"], ["GLA", 7]])
    assert not stock.is_hidden


def test_a_bulk_table_saved_by_calc(reader: Reader) -> None:
    assert records_of(reader.read(CALC / "stock.csv", "stock.csv"))[1] == ["0417", "2027-02-14", "GLA", "48", "1", "32"]


# .xlsx: positions, kinds of cell, and the two ways of reading


def test_leading_empty_rows_and_columns_keep_their_places(read) -> None:
    reading = read(written({"Stock": [[], [], [None, None, "item", None, 7], [], [None, "x"]]}), "a.xlsx")
    assert rows_of(reading) == [[], [], [None, None, "item", None, 7], [], [None, "x"]]


def test_kinds_of_cell(read) -> None:
    given_row: list[object] = ["0417", " two  spaces ", 12, 12.5, True, False, date(2027, 1, 3), time(10, 30)]
    given_row.append(datetime(2027, 1, 3, 10, 30))
    found = rows_of(read(written({"Stock": [given_row]}), "a.xlsx"))[0]
    assert found == given_row
    assert [type(cell) for cell in found] == [str, str, float, float, bool, bool, date, time, datetime]


@pytest.mark.parametrize(("serial", "is_1904"), [(46390, False), (44928, True)])  # checks.md, T6: 2027-01-03
def test_days_in_both_date_systems(read, serial: int, is_1904: bool) -> None:
    cells = row(1, f'<c r="A1" s="{DAY}"><v>{serial}</v></c>', f'<c r="B1" s="{MOMENT}"><v>{serial}.75</v></c>')
    system = '<workbookPr date1904="1"/>' if is_1904 else ""
    assert rows_of(read(raw_xlsx(cells, before_sheets=system), "a.xlsx")) == [
        [date(2027, 1, 3), datetime(2027, 1, 3, 18, 0)]
    ]
    assert rows_of(read(written({"S": [[date(2027, 1, 3)]]}, is_1904=is_1904), "a.xlsx")) == [[date(2027, 1, 3)]]


@pytest.mark.parametrize("serial", ["1", "59", "60", "-1"])
def test_days_that_the_calendar_of_serials_cannot_tell(read, serial: str) -> None:
    """59 and 60 are both 28 February 1900 to libraries: neither is guessed."""
    [[cell, beside]] = rows_of(read(raw_xlsx(row(1, f'<c r="A1" s="{DAY}"><v>{serial}</v></c>', C_B1)), "a.xlsx"))
    assert isinstance(cell, CellFault)
    assert cell.why == "error"
    assert beside == 7


C_B1 = '<c r="B1"><v>7</v></c>'


def test_spans_of_hours(read) -> None:
    cells = row(1, f'<c r="A1" s="{SPAN}"><v>0.4375</v></c>', f'<c r="B1" s="{SPAN}"><v>1.5</v></c>')
    assert rows_of(read(raw_xlsx(cells), "a.xlsx")) == [[time(10, 30), 1.5]]


def test_hidden_and_merged(read) -> None:
    reading = read(written({"Shown": [["a"]], "Kept": [["b"]]}, hidden=("Kept",)), "a.xlsx")
    assert [(s.name, s.is_hidden) for s in reading.sheets] == [("Shown", False), ("Kept", True)]
    merged = row(1, '<c r="A1"><v>1</v></c>', C_B1) + row(2, '<c r="A2"><v>2</v></c>', '<c r="B2"><v>3</v></c>')
    after = '<mergeCells count="1"><mergeCell ref="A1:B1"/></mergeCells>'
    assert rows_of(read(raw_xlsx(merged, after=after), "a.xlsx")) == [[1], [2, 3]]


def test_faults_are_told_at_their_cell(read) -> None:
    cells = row(2, '<c r="B2" t="e"><v>#REF!</v></c>', '<c r="C2"><f>B3*3</f></c>', '<c r="D2"><f>B3</f><v/></c>')
    cells += row(3, '<c r="B3"><f>1+1</f><v>2</v></c>', '<c r="C3" t="str"><f>IF(B3,"","x")</f><v></v></c>')
    reading = read(raw_xlsx(cells), "a.xlsx")
    lost = CellFault("=B3*3", "no value"), CellFault("=B3", "no value")
    assert rows_of(reading) == [[], [None, CellFault("#REF!", "error"), *lost], [None, 2]]


def test_a_shared_formula_and_an_array_formula_without_values(read) -> None:
    cells = row(1, '<c r="A1"><f t="shared" ref="A1:B1" si="0">C1+1</f></c>', '<c r="B1"><f t="shared" si="0"/></c>')
    cells += row(2, '<c r="A2"><f t="array" ref="A2">SUM(A1:B1*2)</f></c>')
    [first, second] = rows_of(read(raw_xlsx(cells), "a.xlsx"))
    assert first == [CellFault("=C1+1", "no value"), CellFault("=D1+1", "no value")]
    assert second == [CellFault("=SUM(A1:B1*2)", "no value")]


ODD_CELLS = {
    "text with spaces that are not marked as kept": ('<c r="A1" t="s"><v>0</v></c>', "  a b "),
    "a comment within a number": ('<c r="A1"><v>1<!-- x -->2</v></c>', 12),
    "CDATA": ('<c r="A1" t="str"><v><![CDATA[a<b]]></v></c>', "a<b"),
    "single quotes": ("<c r='A1' t='e'><v>#REF!</v></c>", CellFault("#REF!", "error")),
    "an error type spelled as an entity": ('<c r="A1" t="&#101;"><v>#N/A</v></c>', NOT_A_NUMBER),
    "spaces round an attribute": ('<c r="A1" t = "e"><v>#N/A</v></c>', NOT_A_NUMBER),
    "attributes in another order": ('<c t="e" r="A1"><v>#N/A</v></c>', NOT_A_NUMBER),
    "a day as text": ('<c r="A1" t="d"><v>2027-01-03</v></c>', date(2027, 1, 3)),
    "an escape": ('<c r="A1" t="inlineStr"><is><t>a_x000D_b</t></is></c>', "a\rb"),
    "an escape of a letter": ('<c r="A1" t="inlineStr"><is><t>a_x010D_b</t></is></c>', "ačb"),
    "white space between the tags": ('<c r="A1">\n  <v>12</v>\n</c>', 12),
    "a formula without a value, white space between": ('<c r="A1">\n<f>B9</f>\n</c>', CellFault("=B9", "no value")),
}


@pytest.mark.parametrize("case", ODD_CELLS)
def test_cells_in_an_odd_form(read, case: str) -> None:
    cell, expected = ODD_CELLS[case]
    payload = raw_xlsx(row(1, cell, C_B1), shared="<si><t>  a b </t></si>")
    assert rows_of(read(payload, "a.xlsx")) == [[expected, 7]]


def test_a_namespace_prefix_hides_no_error(read) -> None:
    """Some programs write <x:c> for <c>."""

    def prefix(name: str, part: bytes) -> bytes:
        if "sheet1" not in name:
            return part
        text = part.decode().replace("</", "</x:").replace("xmlns=", "xmlns:x=")
        return "".join(f"<{'' if p.startswith('/') else 'x:'}{p}" for p in text.split("<")[1:]).encode()

    good = raw_xlsx(row(1, '<c r="A1"><v>5</v></c>', C_B1))
    bad = raw_xlsx(row(1, '<c r="A1" t="e"><v>#N/A</v></c>', C_B1))
    assert rows_of(read(edited(good, prefix), "a.xlsx")) == [[5, 7]]
    assert rows_of(read(edited(bad, prefix), "a.xlsx")) == [[NOT_A_NUMBER, 7]]


def test_cells_without_a_place_follow_one_another(read) -> None:
    cells = '<row><c><v>1</v></c><c><v>2</v></c></row><row r="3"><c><v>3</v></c></row>'
    assert rows_of(read(raw_xlsx(cells), "a.xlsx")) == [[1, 2], [], [3]]


def test_east_asian_days_are_days_the_careful_way_too(read) -> None:
    cells = row(1, f'<c r="A1" s="{DAY}"><v>46390</v></c>', '<c r="B1" t="e"><v>#N/A</v></c>')
    payload = edited(raw_xlsx(cells), lambda _, part: part.replace(b'<xf numFmtId="14"/>', b'<xf numFmtId="31"/>'))
    assert rows_of(read(payload, "a.xlsx")) == [[date(2027, 1, 3), NOT_A_NUMBER]]


def test_the_fast_way_is_taken_wherever_it_may(read) -> None:
    """A chain of calculation has elements named like cells; formulas with values need no second look."""
    chain = f'<calcChain xmlns="{MAIN}"><c r="A1" i="1" l="1"/></calcChain>'
    sheet = row(
        1, '<c r="A1" s="1"><f ca="1">NOW()</f><v>46390.5</v></c>', '<c r="B1" cm="1" t="str"><f>"x"</f><v>x</v></c>'
    )
    parts = raw_parts(f"<sheetData>{sheet}</sheetData>") | {"xl/calcChain.xml": chain}
    assert xlsx_sure.is_sure(part.encode() for part in parts.values())
    assert rows_of(read(zipped(parts), "a.xlsx")) == [[datetime(2027, 1, 3, 12), "x"]]


@pytest.mark.parametrize(
    "rows",
    [
        row(1, '<c r="A1"><v>1</v></c>') + row(1_048_576, '<c r="XFD1048576"><v>2</v></c>'),
        f"<row>{'<c/>' * 16_000}<c><v>1</v></c></row>{'<row/>' * 2000}<row><c><v>2</v></c></row>",
        row(1, '<c r="A1"><v>1</v></c>', '<c r="A1"><v>2</v></c>'),
        row(1, '<c r="A1"><v>1</v></c>', "<c><v>2</v></c>"),
        row(1, '<c r="A1"><v>1</v></c>') + "</sheetData><sheetData>" + row(2, '<c r="A2"><v>2</v></c>'),
    ],
    ids=["far apart", "far apart, without places", "a place twice", "some places", "two tables of cells"],
)
def test_the_fast_way_is_not_taken(rows: str) -> None:
    assert not xlsx_sure.is_sure([f"<worksheet><sheetData>{rows}</sheetData></worksheet>".encode()])
    assert xlsx_sure.is_sure([f"<worksheet><sheetData>{row(1, C_B1)}</sheetData></worksheet>".encode()])


texts = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc"), exclude_characters="￾￿"), max_size=12)
cells = st.one_of(
    st.none(),
    texts,
    st.sampled_from([" x", "y ", "_x0041_", "a\nb", "0042", "1e5", "=1+1", "\t"]),
    st.integers(-(10**9), 10**9),
    st.floats(allow_nan=False, allow_infinity=False, width=32),
    st.booleans(),
    st.dates(date(1901, 1, 1), date(2100, 1, 1)),
    st.times().map(lambda t: t.replace(microsecond=0)),
    st.datetimes(datetime(1901, 1, 1), datetime(2100, 1, 1)).map(lambda d: d.replace(microsecond=0)),
)


@given(st.lists(st.lists(cells, max_size=5), max_size=6), st.booleans())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_both_ways_read_what_was_written(rows: list[list[object]], is_1904: bool) -> None:
    is_1904 = is_1904 and not any(isinstance(c, date) and c.year < 1905 for r in rows for c in r)
    payload = written({"Stock": rows, "Other": [["x"]]}, is_1904=is_1904)
    xml = xlsx.xml_of(Parts(payload))
    assert xlsx_sure.is_sure(xml.values()) or any(isinstance(c, str) for r in rows for c in r)
    stored = cut([[as_stored(cell) for cell in line] for line in rows])
    assert xlsx.carefully(payload, xml)[0].rows == stored
    assert xlsx.read_xlsx(payload, Parts(payload)).sheets[0].rows == stored


def as_stored(cell: object) -> object:
    """A cell as XlsxWriter stores it: numbers to 16 digits, midnight as the day, no empty text."""
    if isinstance(cell, float):
        return float(f"{cell:.16G}")
    if isinstance(cell, datetime) and cell.time() == time.min:
        return cell.date()
    return None if cell == "" else cell


def cut(rows: list[list[object]]) -> list[list[object]]:
    """Rows without the empty cells and rows at their ends."""
    kept = [line[: max((k + 1 for k, cell in enumerate(line) if cell is not None), default=0)] for line in rows]
    return kept[: max((k + 1 for k, line in enumerate(kept) if line), default=0)]


# .ods


def test_an_open_document_spreadsheet(read) -> None:
    body = ods_row(repeated=2) + ods_row(
        ods_cell(),
        ods_cell("float", "12", "12"),
        ods_cell("percentage", "0.5", "50 %"),
        ods_cell("currency", "5.5", "$5.50"),
        ods_cell("date", "2027-01-03", "3 Jan"),
        ods_cell("date", "2027-01-03T10:30:00", "3 Jan"),
        ods_cell("time", "PT10H30M00S", "10:30"),
        ods_cell("time", "PT36H00M00S", "36:00"),
        ods_cell("boolean", "true", "TRUE"),
        ods_cell("string", "", 'a<text:s text:c="3"/>b<text:tab/>c<text:line-break/>d <text:span>e</text:span>'),
        ods_cell("", "", "plain"),
    )
    moment = datetime(2027, 1, 3, 10, 30)
    seen = [None, 12, "50%", "$5.50"]  # what a format adds to a number is a part of it
    kept = [*seen, date(2027, 1, 3), moment, time(10, 30), 1.5, True, "a   b\tc\nd e", "plain"]
    assert rows_of(read(ods(body), "a.ods")) == [[], [], kept]


def test_repeated_cells_and_rows_keep_faults_at_their_places(read) -> None:
    fault = ods_cell("string", "", "#REF!", 'table:formula="of:=[.A9]" table:number-columns-repeated="2" ')
    body = ods_row(ods_cell("float", "1", "1", 'table:number-columns-repeated="3"'), fault, repeated=2)
    body += ods_row(
        ods_cell(more='table:formula="of:=[.B2]*3"'), ods_cell("string", more='table:formula="of:=T()"', text="")
    )
    lost = CellFault("#REF!", "error")
    body += ods_row(ods_cell(more='table:formula="of:=IF([.A1];&quot;&quot;)"', text=""), ods_cell("float", "2", "2"))
    expected = [[1, 1, 1, lost, lost], [1, 1, 1, lost, lost], [CellFault("=B2*3", "no value")], [None, 2]]
    assert rows_of(read(ods(body), "a.ods")) == expected


def test_an_error_that_stores_a_number_is_an_error(read) -> None:
    cell = ods_cell("float", "0", "Err:502", 'table:formula="of:=X" calcext:value-type="error"')
    assert rows_of(read(ods(ods_row(cell)), "a.ods")) == [[CellFault("Err:502", "error")]]


def test_what_lies_beside_the_cells_is_no_cell(read) -> None:
    note = "<office:annotation><text:p>remember</text:p></office:annotation>"
    drawn = "<draw:frame><draw:text-box><text:p>drawn</text:p></draw:text-box></draw:frame>"
    noted = f'<table:table-cell office:value-type="string">{note}{drawn}<text:p>cell</text:p></table:table-cell>'
    gone = ods_row(ods_cell("float", "9", "9"))
    before = f"<table:tracked-changes><table:deletion>{gone}</table:deletion></table:tracked-changes>"
    covered = ods_cell("string", "", "under the merged one", covered=True)
    body = ods_row(noted, covered, ods_cell("float", "4", "4"))
    assert rows_of(read(ods(body, before=before), "a.ods")) == [["cell", None, 4]]


def test_a_hidden_sheet_of_an_open_document(read) -> None:
    style = (
        '<style:style style:name="h" style:family="table"><style:table-properties table:display="false"/></style:style>'
    )
    before = f'<table:table table:name="Kept" table:style-name="h">{ods_row(ods_cell("float", "5", "5"))}</table:table>'
    reading = read(ods(ods_row(ods_cell("float", "1", "1")), before=before, styles=style), "a.ods")
    assert [(s.name, s.is_hidden, s.rows) for s in reading.sheets] == [("Kept", True, [[5]]), ("Stock", False, [[1]])]


# .xls


@pytest.mark.parametrize(("is_1904", "serial"), [(False, 46390), (True, 44928)])
def test_an_old_workbook(read, is_1904: bool, serial: int) -> None:
    book = xlwt.Workbook()
    book.dates_1904 = is_1904
    sheet, hidden = book.add_sheet("Stock"), book.add_sheet("Kept")
    hidden.visibility = 1
    day, clock_style = xlwt.easyxf(num_format_str="yyyy-mm-dd"), xlwt.easyxf(num_format_str="hh:mm")
    for column, value in enumerate(["0417", 12, 12.5, True]):
        sheet.write(2, 1 + column, value)
    sheet.write(3, 1, serial, day)
    sheet.write(3, 2, 10.5 / 24, clock_style)
    sheet.write(3, 3, 60, day)
    sheet.row(3).set_cell_error(4, "#REF!")
    sheet.write(4, 0, "top")
    sheet.write(4, 2, "under the merged one")
    sheet.merged_ranges.append((4, 4, 0, 2))
    sheet.write(5, 0, "end")
    hidden.write(0, 0, "x")
    held = io.BytesIO()
    book.save(held)
    reading = read(held.getvalue(), "a.xls")
    rows = rows_of(reading)
    assert rows[:3] == [[], [], [None, "0417", 12, 12.5, True]]
    assert rows[3][1:3] == [date(2027, 1, 3), time(10, 30)]
    assert rows[3][3] == (date(1904, 3, 1) if is_1904 else CellFault("1900-02-28", "error"))
    assert rows[3][4] == CellFault("#REF!", "error")
    assert rows[4:] == [["top"], ["end"]]
    assert [s.is_hidden for s in reading.sheets] == [False, True]


# CSV and other tables of text

PLAIN = [["troop", "item", "packages"], ["0417", "GLA", "12"], ["0206", "Zoë", ""]]


def text_of(rows: list[list[str]], separator: str = ",", end: str = "\n") -> str:
    return "".join(separator.join(line) + end for line in rows)


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_separators_and_line_ends(read, codec: str, separator: str, end: str) -> None:
    reading = read(text_of(PLAIN, separator, end).encode(codec), "a.csv")
    assert records_of(reading) == PLAIN
    assert reading.findings == []
    assert reading.sheets[0].table.column_names == ["c0", "c1", "c2"]
    assert lines_of(reading) is None


def test_an_older_windows_encoding_is_told(read) -> None:
    reading = read("troop,name\n0417,Zoë\n0417,5 €\n".encode("cp1252"), "a.csv")
    assert records_of(reading) == [["troop", "name"], ["0417", "Zoë"], ["0417", "5 €"]]
    [told] = reading.findings
    assert (told.is_note, told.cell, "cp1252" in told.found) == (True, "A2", True)


def test_decimal_commas_do_not_separate(read) -> None:
    lines = ["on;amount;note"] + [f"2027-02-{k:02};{k},50;a, b" for k in range(10, 20)]
    assert records_of(read("\n".join(lines).encode(), "a.csv"))[1] == ["2027-02-10", "10,50", "a, b"]


def test_semicolons_within_cells_do_not_separate(read) -> None:
    lines = ["place,participants"] + [f"hall {k},0417-01; 0417-0{k}" for k in range(9)]
    assert records_of(read("\n".join(lines).encode(), "a.csv"))[1] == ["hall 0", "0417-01; 0417-00"]


def test_a_title_above_the_table(read) -> None:
    payload = b"Supply for the area\n\ntroop,item,packages\n0417,GLA,12\n0206,DAH,\n"
    expected = [["Supply for the area", None, None], [None] * 3, *PLAIN[:2], ["0206", "DAH", ""]]
    assert records_of(read(payload, "a.csv")) == expected


def test_one_column_does_not_pass_silently(read) -> None:
    reading = read(b"troop^item\n0417^GLA\n", "a.csv")
    assert records_of(reading) == [["troop^item"], ["0417^GLA"]]
    assert [f.found for f in reading.findings] == ["one column only: no comma, semicolon, tab or | separates cells"]


def test_a_line_that_names_the_separator_is_no_record(read) -> None:
    reading = read(b"sep=;\r\ntroop;amount\r\n0417;1,50\r\n", "a.csv")
    assert records_of(reading) == [["troop", "amount"], ["0417", "1,50"]]
    assert lines_of(reading) == [2, 3]


@pytest.mark.parametrize("more", ["", "short\n"])  # a ragged line makes the csv module read it
def test_line_numbers_with_line_breaks_in_cells(read, more: str) -> None:
    payload = f'troop,note\n0417,"one\ntwo\r\nthree"\n0206,"a ""b"", c"\n{more}"",x\n'
    reading = read(payload.encode(), "a.csv")
    records = records_of(reading)
    assert records[:3] == [["troop", "note"], ["0417", "one\ntwo\r\nthree"], ["0206", 'a "b", c']]
    assert records[-1] == ["", "x"]
    assert lines_of(reading) == [1, 2, 5, 6, 7][: len(records)]


def test_ragged_lines_keep_their_cells(read) -> None:
    payload = b"troop,item,packages\n0417,GLA\n0417,DAH,3,extra,\n0417,LIL,4\n,,\n"
    expected = [
        ["troop", "item", "packages", None, None],
        ["0417", "GLA", None, None, None],
        ["0417", "DAH", "3", "extra", ""],
        ["0417", "LIL", "4", None, None],
    ]
    assert records_of(read(payload, "a.csv")) == expected


def test_empty_ends_are_cut_and_empty_lines_within_are_kept(read) -> None:
    payload = b"troop,item,,\n\n0417,GLA,,\n,,,\n\n" + b",,,\n" * 1000
    assert records_of(read(payload, "a.csv")) == [["troop", "item"], ["", ""], ["0417", "GLA"]]


def test_a_quotation_mark_within_a_cell_is_text(read) -> None:
    payload = b'troop,pot\n0417,5" pot\n0417,"5"" pot"\n'
    assert records_of(read(payload, "a.csv")) == [["troop", "pot"], ["0417", '5" pot'], ["0417", '5" pot']]


def test_spaces_before_a_quoted_cell(read) -> None:
    assert records_of(read(b'a, "b, c", d\n1, "2", 3\n', "a.csv")) == [["a", "b, c", "d"], ["1", "2", "3"]]


csv_cells = st.text(st.sampled_from('ab"\n,; é0'), max_size=5)


@given(st.lists(st.lists(csv_cells, min_size=1, max_size=4), min_size=1, max_size=6), st.sampled_from([0, 1, 2]))
@settings(max_examples=150, deadline=None)
def test_text_comes_back_as_it_was_written(rows: list[list[str]], quoting: int) -> None:
    rows = [["troop", "item", "note", "packages"], *[[*line, *[""] * (4 - len(line))] for line in rows], ["z"] * 4]
    held = io.StringIO(newline="")
    csv.writer(held, quoting=quoting, lineterminator="\n").writerows(rows)
    payload = held.getvalue().encode()
    contents = delimited.read_delimited(payload)
    assert [list(r.values()) for r in contents.table.to_pylist()] == rows
    starts, line = [], 1
    for record in rows:
        starts.append(line)
        line += 1 + sum(cell.count("\n") for cell in record)
    assert (contents.lines.to_pylist() if contents.lines is not None else list(range(1, len(rows) + 1))) == starts
    careful, _, _ = delimited._careful(payload, ",", 0, is_spaced=False)
    assert [list(r.values()) for r in careful.to_pylist()] == rows


# Parquet


def test_a_parquet_table_keeps_names_and_types(read) -> None:
    table = pa.table(
        {
            "troop": pa.array(["0417", None]).dictionary_encode(),
            "packages": pa.array([12, 3], pa.int32()),
            "amount": pa.array([Decimal("1.50"), None], pa.decimal128(12, 2)),
            "on": pa.array([date(2027, 2, 14), None]),
        }
    )
    held = io.BytesIO()
    pq.write_table(table, held)
    reading = read(held.getvalue(), "a.parquet")
    [sheet] = reading.sheets
    assert (reading.findings, sheet.name, sheet.has_names, sheet.row_numbers) == ([], "", True, None)
    assert sheet.table == table.set_column(0, "troop", table["troop"].cast(pa.string()))


def test_a_parquet_table_by_polars(read) -> None:
    held = io.BytesIO()
    pl.DataFrame({"troop": ["0417"], "week_ending": [date(2027, 2, 14)]}).write_parquet(held)
    assert read(held.getvalue(), "a.parquet").sheets[0].table.to_pylist() == [
        {"troop": "0417", "week_ending": date(2027, 2, 14)}
    ]


# What the content is, not what the name says


@pytest.mark.parametrize(
    ("payload", "name", "noted"),
    [
        (written({"S": [["a", 1]]}), "a.csv", "an Excel workbook (.xlsx), named .csv"),
        (written({"S": [["a", 1]]}), "a.XLSX", None),
        (written({"S": [["a", 1]]}), "a", None),
        (
            ods(ods_row(ods_cell("string", "", "a"), ods_cell("float", "1", "1"))),
            "a.xlsx",
            "an OpenDocument spreadsheet",
        ),
        (b"a,1\n", "a.xlsx", "a table of text (.csv), named .xlsx"),
        (b"a,1\n", "a.txt", None),
    ],
)
def test_a_mislabelled_file_is_read_as_what_it_is(read, payload: bytes, name: str, noted: str | None) -> None:
    reading = read(payload, name)
    sheet = reading.sheets[0]
    assert (sheet.rows or records_of(reading)) in ([["a", 1]], [["a", "1"]])
    assert [f.is_note for f in reading.findings] == ([True] if noted else [])
    assert not noted or reading.findings[0].found.startswith(noted)


# The worker


def test_many_files_come_in_the_order_given_and_the_worker_reads_ahead(reader: Reader, tmp_path: Path) -> None:
    files = []
    for k in range(40):
        path = tmp_path / f"{k}"
        path.write_bytes(f"troop,n\n0417,{k}\n".encode())
        files.append((path, f"{k}.csv"))
    answers = reader.read_all(iter(files))
    assert records_of(next(answers))[1] == ["0417", "0"]
    assert waits_in(reader._worker._process.stdout), "the second answer was not there before it was asked for"
    assert [records_of(one)[1][1] for one in answers] == [str(k) for k in range(1, 40)]


def waits_in(pipe) -> bool:
    """Whether something stands in this pipe to be read, or will within 5 seconds."""
    return bool(select.select([pipe], [], [], 5)[0])


def test_a_reading_broken_off_does_not_mix_with_the_next(reader: Reader) -> None:
    first, second = CALC / "stock.csv", CALC / "0417 with faults.xlsx"
    answers = reader.read_all([(first, "a"), (first, "b"), (first, "c")])
    next(answers)
    assert reader.read(second, "x.xlsx").sheets[0].name == "Cover"
    next(answers)
    answers.close()
    assert reader.read(second, "x.xlsx").sheets[0].name == "Cover"


def test_the_records_of_an_answer() -> None:
    from pipelines.intake.files.wire import Cells, note, pack, unpack

    answer = Answer([Cells("Stock", [[1, None]], [(0, 1, "#N/A", "error")])], [note("a", "b", "c")], False, False)
    reading = reading_of(unpack(pack(answer)), None)
    assert reading.sheets[0].rows == [[1, NOT_A_NUMBER]]
    assert reading.findings == [Finding("", "", "a", "b", "c", is_note=True)]
