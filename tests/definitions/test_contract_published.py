"""The published contract against the frictionless library: what it takes we take, what it refuses we refuse.

The worked season and the demo are valid; what a schema takes, intake takes; a bad cell is refused by both; every rule
that a schema cannot say has its file.
"""

import csv
import io
import json
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pyarrow.csv as pa_csv
import pyarrow.parquet as pq
import pytest
from frictionless import Package, Resource, Schema, system
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner
from weighing import WORKED, Scales, worked

from demo_warehouse import make
from pipelines.cli import app
from pipelines.definitions import contract_page, table_schemas
from pipelines.definitions.columns import Column, Table
from pipelines.definitions.contract import TABLES
from pipelines.definitions.season import read_season
from pipelines.intake.files.readers import Reader
from pipelines.intake.judging.codes import is_everybody
from pipelines.intake.judging.judge import Fault, Known, Noted, _judge_for, judge_value

SEASON = read_season((WORKED / "season.toml").read_text(encoding="utf-8"))
TROOPS = frozenset({"0206", "8572"})
IN_BULK = [*(WORKED / "submissions-in-bulk").iterdir(), *(WORKED / "submissions-in-bulk-first-drafts").iterdir(),
           *(WORKED / "feeds").iterdir()]  # fmt: skip


@pytest.fixture(autouse=True)
def version_1() -> Iterator[None]:
    with system.use_context(standards="v1"):
        yield


@pytest.fixture(scope="module")
def scales() -> Scales:
    return Scales()


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    with Reader() as one:
        yield one


def faults(path: Path, season=SEASON) -> list[list[object]]:
    """The errors that frictionless finds in a CSV file named as its table: row, field, kind of error."""
    schema = Schema.from_descriptor(table_schemas.table_schema(TABLES[path.stem], season))
    with system.use_context(trusted=True):
        report = Resource(path=str(path), schema=schema).validate()
    return report.flatten(["rowNumber", "fieldName", "type"])


def test_the_descriptors_are_valid(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["contract", str(tmp_path), "--book", str(WORKED)])
    assert done.exit_code == 0, done.output
    Package.from_descriptor(str(tmp_path / "datapackage.json"))
    package = json.loads((tmp_path / "datapackage.json").read_text(encoding="utf-8"))
    assert [one["name"] for one in package["resources"]] == list(TABLES)
    for resource in package["resources"]:
        schema = Schema.from_descriptor(str(tmp_path / resource["schema"]))
        assert [field.name for field in schema.fields] == list(TABLES[resource["name"]].names)
    package = Package.from_descriptor(str(tmp_path / "datapackage.json"))
    assert package.get_resource("stock").schema.get_field("item").constraints["enum"] == [
        "GLA", "DAH", "LIL", "MDW", "HRB", "SUN"]  # fmt: skip


@pytest.mark.parametrize("path", IN_BULK, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_the_worked_season_is_valid(path: Path) -> None:
    assert faults(path) == []
    assert faults(path, season=None) == []


def test_the_demo_is_valid_but_for_what_we_refuse_too(tmp_path: Path) -> None:
    """Its tables in bulk, feeds included; some filings name an item that the season has not."""
    make(tmp_path, formats="bulk-parquet")
    season = read_season((tmp_path / "season.toml").read_text(encoding="utf-8"))
    found: dict[str, list[list[object]]] = {}
    for path in sorted((tmp_path / "inbox").rglob("*.parquet")):
        as_csv = tmp_path / path.parent.name / f"{path.stem}.csv"
        as_csv.parent.mkdir(exist_ok=True)
        pa_csv.write_csv(pq.read_table(path), as_csv)
        if told := faults(as_csv, season):
            found[f"{path.parent.name}/{path.stem}"] = told
    assert len(list(tmp_path.rglob("*.csv"))) >= 17
    assert {(Path(name).name, field, kind) for name, told in found.items() for _row, field, kind in told} == {
        ("families", "item", "constraint-error")
    }


# Cell by cell

COLUMNS = [(table, column) for table in TABLES.values() for column in table.columns]
TYPICAL = """
    0 12 -3 12.5 12.50 -0.01 100000 100001 -100001 10000000 10000000.01 1001 -1000.5 1,234.50 $5 twelve 0417 0206 GLA
    TUL GIV outside troop 0206-01 yes No TRUE maybe in depot by_post placed photo 2027-02-14 2027-02-13 2027-02-30
    14/02/2027 2031-01-05 2020-01-05 09:30 24:00 9.30
""".split()
TYPICAL += ["", "x" * 61, "x" * 31]
texts = st.one_of(
    st.sampled_from(TYPICAL),
    st.from_regex(r"-?[0-9]{1,9}(\.[0-9]{1,5})?", fullmatch=True),
    st.dates().map(str),
    st.times().map(lambda clock: clock.isoformat("minutes")),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=70),
)


def ours(text: str, table: Table, column: Column) -> object:
    known = Known(SEASON, TROOPS, defines_troops=table.name in ("troops", "roster"))
    is_filled = column.filled and (table.is_feed or column.name in ("troop", "week_ending"))
    judged = judge_value(text, column, _judge_for(column, known), filled=is_filled)
    return judged.value if isinstance(judged, Noted) else judged


FIELDS = {
    (table.name, column.name): Schema.from_descriptor(table_schemas.table_schema(table, SEASON)).get_field(column.name)
    for table, column in COLUMNS
}


def beyond(text: str, column: Column) -> bool:
    """Whether a cell breaks what the page says a schema cannot say of its kind, or is written as no schema means it."""
    limit = table_schemas.CELLS.get(column.kind, "")
    if "decimals" in limit:
        places = 4 if column.kind == "rate" else 2
        return len(text.strip().partition(".")[2]) > places
    if "troop of" in limit:
        return text.strip() not in {*TROOPS, *(["outside"] if column.kind == "other_troop" else [])}
    words = re.split(r"[\s,;]+", text)
    if "minutes" in limit and (told := [word.rpartition(":") for word in words if re.fullmatch(r".+:[0-9]+", word)]):
        codes = [word.rpartition(":")[0] or word for word in words]
        if any(not 1 <= int(minutes) <= 24 * 60 or codes.count(code) > 1 for code, _colon, minutes in told):
            return True
    is_total = "tot" in text.casefold() + "tot" * (text.casefold() in ("sum", "subtotal"))
    return "total" in limit and (is_total or is_everybody(words))


@given(st.sampled_from(COLUMNS), texts)
@settings(max_examples=1500, deadline=None)
def test_a_cell_that_a_schema_takes_is_taken(where: tuple[Table, Column], text: str) -> None:
    table, column = where
    value, notes = FIELDS[table.name, column.name].read_cell(text)
    if notes or beyond(text, column) or not text.isascii():
        return
    judged = ours(text, table, column)
    assert not isinstance(judged, Fault), (table.name, column.name, text)
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        assert judged == value


BAD = {
    "packages": ["-1", "2.5", "twelve", "100001", "1e3"],
    "packages_back": ["2.5", "-100001", "100001", "x"],
    "count": ["-1", "2.5", "x", "100001"],
    "money": ["-0.01", "10000000.01", "about 5", "12,50", "1.234,50", "5 USD"],
    "money_noted": ["10000000.01", "-10000000.01", "x", "12,50"],
    "money_signed": ["10000000.01", "-10000000.01", "x"],
    "rate": ["1000.5", "-1001", "x"],
    "date": ["14/02/2027", "2027-02-30", "yesterday"],
    "week_ending": ["2027-02-13", "2020-02-09", "week 6"],
    "time": ["25:00", "9.30", "noon"],
    "yes_no": ["maybe", "2"],
    "choice": ["elsewhere"],
    "item": ["TUL", "GLA2"],
    "stocked_item": ["TUL", "GIV"],
    "text": ["x" * 10_001],
    "troop": ["x" * 31],
    "other_troop": [],
    "participant": ["x" * 61],
    "participants": [],
    "numbers": ["0", "1.5", "one", "101", "1-3", "1/2"],
}
CASES = [(table, column, text) for table, column in COLUMNS for text in BAD[column.kind]]
CASES += [(table, column, "") for table, column in COLUMNS
          if column.filled and (table.is_feed or column.name in ("troop", "week_ending"))]  # fmt: skip
CASES += [(table, column, "2031-01-05") for table, column in COLUMNS
          if column.kind == "date" and column.name not in table_schemas.ANY_DAY]  # fmt: skip


def test_a_bad_cell_is_refused_by_both() -> None:
    assert len(CASES) > 200
    for table, column, text in CASES:
        _value, notes = FIELDS[table.name, column.name].read_cell(text)
        assert notes, (table.name, column.name, text)
        assert isinstance(ours(text, table, column), Fault), (table.name, column.name, text)


def written(path: Path, rows: list[dict[str, str]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def refused(path: Path, reader: Reader, scales: Scales) -> list[str]:
    """The cells that intake refuses."""
    return [f.cell for f in scales.weigh(reader.read(path, path.name), path.name).findings if not f.is_note]


@pytest.mark.parametrize("seed", range(12))
def test_a_table_with_one_bad_cell(tmp_path: Path, reader: Reader, scales: Scales, seed: int) -> None:
    """Whole files: the same row, the same column, in both."""
    worked_tables = {path.stem for path in IN_BULK}
    there = [case for case in CASES if case[2] and case[0].name in worked_tables]
    table, column, text = there[seed * 97 % len(there)]
    rows = worked(table.name)[:20]
    assert refused(written(tmp_path / f"{table.name}.csv", rows), reader, scales) == []
    bad = min(7, len(rows) - 1)
    rows[bad][column.name] = text
    path = written(tmp_path / f"{table.name}.csv", rows)
    assert [told[:2] for told in faults(path)] == [[bad + 2, column.name]]
    letter = "ABCDEFGHIJKLMN"[list(rows[0]).index(column.name)]
    assert f"{letter}{bad + 2}" in refused(path, reader, scales)


def test_a_key_twice(tmp_path: Path, reader: Reader, scales: Scales) -> None:
    rows = worked("supply")[:5]
    rows.append(rows[0] | {"packages": "1"})
    path = written(tmp_path / "supply.csv", rows)
    assert [told[2] for told in faults(path)] == ["primary-key"]
    assert refused(path, reader, scales) == ["F7"]


# What a schema has no words for: the schema takes it, intake refuses it, and the page says so

STALL = "0206 2027-02-14 2027-02-13 09:00 Hall"
BEYOND = {
    "noted": ("banked", "troop week_ending date amount note", "0206 2027-02-14 2027-02-13 -5.00 -"),
    "bank row": ("banked", "troop week_ending date amount kind", "0206 2027-02-14 2027-02-13 15.00 fee"),
    "own row": ("families", "troop week_ending participant item packages cash", "0206 2027-02-14 0206-01 GLA 2 5.00"),
    "one row each": ("families", "troop week_ending participant item packages",
                     "0206 2027-02-14 0206-01 GLA 2\n0206 2027-02-14 0206-01 GLA 3"),
    "week": ("moves", "troop week_ending date item packages direction other_troop",
             "0206 2027-02-14 2027-02-01 GLA 2 in 8572"),
    "itself": ("moves", "troop week_ending date item packages direction other_troop",
               "0206 2027-02-14 2027-02-10 GLA 2 in 0206"),
    "mode": ("online_orders", "order troop participant placed_on mode state state_on item packages goods_amount",
             "W1 0206 - 2027-02-10 donated sent 2027-02-11 GLA 1 6.00"),
    "state": ("online_orders", "order troop participant placed_on mode state state_on item packages goods_amount",
              "W1 0206 - 2027-02-10 by_post sent 2027-02-09 GLA 1 6.00"),
    "person": ("pages", "troop participant on page_open", "0206 troop 2027-02-10 yes"),
    "one troop": ("roster", "troop participant registered_on", "0206 0206-01 2026-10-01\n8572 0206-01 2026-10-01"),
    "header": ("stock", "troop week_ending item received", "0206 2027-02-14 GLA 12"),
}  # fmt: skip


@pytest.mark.parametrize("rule", [rule for rule in table_schemas.RULES if rule != "nothing"])
def test_rules_beyond_the_schema(tmp_path: Path, reader: Reader, scales: Scales, rule: str) -> None:
    table, header, lines = BEYOND[rule]
    cells = [["" if cell == "-" else cell for cell in line.split()] for line in [header, *lines.splitlines()]]
    path = tmp_path / f"{table}.csv"
    held = io.StringIO(newline="")
    csv.writer(held).writerows(cells)
    path.write_text(held.getvalue(), encoding="utf-8")
    assert faults(path) == []
    assert refused(path, reader, scales)
    assert table_schemas.RULES[rule] in contract_page.contract_page()
    assert rule in table_schemas.rules_of(TABLES[table])


def test_a_row_that_says_nothing_is_taken_by_both(tmp_path: Path, reader: Reader, scales: Scales) -> None:
    for table in ("stock", "families", "stalls", "banked", "moves", "goals"):
        path = written(tmp_path / f"{table}.csv", [dict.fromkeys(TABLES[table].names, "") | {
            "troop": "0206", "week_ending": "2027-02-14"}])  # fmt: skip
        assert faults(path) == []
        assert refused(path, reader, scales) == []


# The page


def test_the_page_says_every_column() -> None:
    page = contract_page.contract_page(SEASON)
    for table in TABLES.values():
        section = page.split(f"### `{table.name}`")[1].split("\n### ")[0]
        for column in table.columns:
            assert f"| `{column.name}` |" in section
            assert all(f"`{choice}`" in section for choice in column.choices)
        for rule in table_schemas.rules_of(table):
            assert table_schemas.RULES[rule] in section
    assert "items are `GLA` (Gladiolus bulbs)" in page
    assert "`GLA`" not in contract_page.contract_page()


def test_the_command_prints_the_page_or_the_schemas() -> None:
    run = CliRunner().invoke
    assert run(app, ["contract"]).output.startswith("# What may come in")
    printed = json.loads(run(app, ["contract", "--json", "--book", str(WORKED)]).output)
    assert list(printed) == [name for name, _ in table_schemas.files()]
    assert printed["schemas/stock.json"]["primaryKey"] == ["troop", "week_ending", "item"]
