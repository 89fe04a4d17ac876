"""What leaves the house: every figure on every paper is that of standing.csv; the same book gives the same bytes."""

import csv
import email
import email.policy
import hashlib
import io
import json
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import polars
import pypdf
import pytest
import season_files
import seasons
from trial import Trial, as_rows

from pipelines.definitions.errors import Stop
from pipelines.definitions.measures import RELATIONS
from pipelines.reports.dollar_places import PLACES
from pipelines.reports.rollup import RolledUp, roll_up, week_of
from pipelines.reports.statement import statement

pytestmark = pytest.mark.filterwarnings(
    "ignore:.*extension is not supported"
)  # openpyxl does not know data bars of 2010

SEED = 11
MINUS = "\N{MINUS SIGN}"


@pytest.fixture(scope="module")
def made() -> seasons.Made:
    return seasons.make(SEED, troops=5, weeks=4)


@pytest.fixture(scope="module")
def trial(made: seasons.Made, tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A book of a random season with everything in it."""
    folder = tmp_path_factory.mktemp("season")
    one = Trial(folder, made.text)
    (folder / "tables").mkdir()
    season_files.write_csvs(folder / "tables", made.tables)
    one.take_in(folder / "tables")
    return one


@pytest.fixture(scope="module")
def rolled(trial: Trial, made: seasons.Made) -> RolledUp:
    return roll_up(trial.book, made.weeks[2])


def standing_of(rolled: RolledUp) -> dict[str, dict[str, str]]:
    return {row["troop"]: row for row in as_rows((rolled.folder / "standing.csv").read_text(encoding="utf-8"))}


def files_of(folder: Path) -> dict[str, bytes]:
    paths = (path for path in folder.rglob("*") if path.is_file() and path.name != "manifest.json")
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


def text_of(pdf: bytes) -> str:
    """A PDF's words, its line breaks as spaces."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def money(amount: str) -> str:
    exact = Decimal(amount)
    return f"{MINUS if exact < 0 else ''}${abs(exact):,.2f}"


# The roll-up as a whole


def test_the_manifest_names_every_file_with_its_hash_and_every_landed_file(rolled: RolledUp, trial: Trial) -> None:
    manifest = json.loads((rolled.folder / "manifest.json").read_text(encoding="utf-8"))
    files = files_of(rolled.folder)
    assert manifest["files"] == {path: hashlib.sha256(content).hexdigest() for path, content in sorted(files.items())}
    assert {"standing.csv", "rollup.xlsx", "tables/families.parquet"} <= files.keys()
    for landed in manifest["landed"]:
        assert hashlib.sha256(trial.book.landed_path(landed["sha256"]).read_bytes()).hexdigest() == landed["sha256"]
    assert len(manifest["landed"]) == len(list((trial.folder / "tables").iterdir())) + 1  # and season.toml


def test_the_same_book_week_and_time_give_the_same_bytes(rolled: RolledUp, trial: Trial, tmp_path: Path) -> None:
    again = roll_up(trial.book, rolled.as_of, out=tmp_path / "again")
    assert files_of(again.folder) == files_of(rolled.folder)


def test_known_on_gives_what_was_known_then(made: seasons.Made, tmp_path: Path) -> None:
    """A roll-up is made, then more comes in: the earlier roll-up can be made again."""
    book = Trial(tmp_path, made.text)
    early = {name: rows for name, rows in made.tables.items() if name not in ("families", "banked")}
    for folder, tables in (("early", early), ("late", {"families": made.tables["families"]})):
        (tmp_path / folder).mkdir()
        season_files.write_csvs(tmp_path / folder, tables)
    book.take_in(tmp_path / "early")
    before = roll_up(book.book, made.weeks[1], out=tmp_path / "before")
    book.take_in(tmp_path / "late")
    after = roll_up(book.book, made.weeks[1], out=tmp_path / "after")
    looked_back = roll_up(book.book, made.weeks[1], before.known_on, out=tmp_path / "looked back")
    assert files_of(looked_back.folder) == files_of(before.folder)
    assert files_of(after.folder)["standing.csv"] != files_of(before.folder)["standing.csv"]


def test_before_a_troop_was_known_nothing_is_rolled_up(trial: Trial, made: seasons.Made, tmp_path: Path) -> None:
    with pytest.raises(Stop, match="No troop was known by then"):
        roll_up(trial.book, made.weeks[1], datetime.fromisoformat("2020-01-01"), out=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_any_day_can_be_asked_for(trial: Trial, made: seasons.Made, tmp_path: Path) -> None:
    day = made.weeks[1] + timedelta(days=3)
    lines = standing_of(roll_up(trial.book, day, out=tmp_path / "out"))
    assert {line["week_ending"] for line in lines.values()} == {day.isoformat()}
    assert {line["submitted"] for line in lines.values()} == {"no"}


# Tables


def test_parquet_says_what_csv_says_in_exact_decimals(rolled: RolledUp) -> None:
    frame = polars.read_parquet(rolled.folder / "tables" / "standing.parquet")
    kind = frame.schema["owed"]
    assert isinstance(kind, polars.Decimal)
    assert kind.scale == 2
    lines = standing_of(rolled)
    assert [str(value) for value in frame["owed"]] == [line["owed"] for line in lines.values()]
    assert frame["troop"].to_list() == list(lines)


def test_exceptions_are_sorted_and_say_where_their_evidence_stands(rolled: RolledUp) -> None:
    rows = as_rows((rolled.folder / "exceptions.csv").read_text(encoding="utf-8"))
    keys = [(row["rule"], row["troop"], row["subject"]) for row in rows]
    assert keys == sorted(keys)
    assert all(row["what"] and row["next_step"] for row in rows)


# The workbook


def sheet_rows(rolled: RolledUp, title: str) -> Iterator[dict[str, object]]:
    """A table sheet's rows by the first line of each heading."""
    workbook = openpyxl.load_workbook(rolled.folder / "rollup.xlsx", rich_text=False)
    header, *rows = list(workbook[title].iter_rows(min_row=5, values_only=True))
    for row in rows:
        yield {str(label).split("\n")[0]: value for label, value in zip(header, row, strict=True)}


@pytest.mark.parametrize("title", ["Troops", "Money", "Every dollar", "Taking part"])
def test_every_figure_of_the_workbook_is_that_of_standing_csv(rolled: RolledUp, title: str) -> None:
    lines = standing_of(rolled)
    labels = {measure.label: name for name, measure in RELATIONS["standing"].items()}
    compared = 0
    for row in sheet_rows(rolled, title):
        line = lines[str(row["Troop"])]
        for label, value in row.items():
            expected = line.get(labels.get(label, ""))
            if expected is None or label == "Troop":
                continue
            compared += 1
            if isinstance(value, int | float):
                assert Decimal(repr(value)).quantize(Decimal("0.000001")) == Decimal(expected).quantize(
                    Decimal("0.000001")
                ), label
            else:
                shown = value.date().isoformat() if hasattr(value, "date") else (value or "")
                assert shown == expected, label
    assert compared > 5 * len(lines)


def test_totals_are_the_sums_of_what_the_filter_shows(rolled: RolledUp) -> None:
    workbook = openpyxl.load_workbook(rolled.folder / "rollup.xlsx", data_only=True)["Money"]
    total = sum(Decimal(line["owed"]) for line in standing_of(rolled).values())
    place = next(cell.column for cell in workbook[5] if str(cell.value).startswith("Owed"))
    assert Decimal(repr(workbook.cell(4, place).value)) == total


# Statements


def test_every_figure_of_a_statement_is_that_of_standing_csv(rolled: RolledUp) -> None:
    for troop, line in standing_of(rolled).items():
        said = text_of((rolled.folder / "statements" / f"{troop}.pdf").read_bytes())
        for name in (*PLACES, "charged", "owed", "past_due"):
            assert money(line[name]) in said, (troop, name)
        for name in ("proceeds", "paid_online", "remitted", "adjustments"):
            assert money(str(-Decimal(line[name]))) in said, (troop, name)
        total = Decimal(line["available_value"]) + Decimal(line["remote_value"]) + Decimal(line["gifts"])
        gifts = ", and gifts" if Decimal(line["gifts"]) else ""
        assert f"All packages answered for, at their price{gifts} {money(str(total))}" in said
        if line["next_due"]:
            assert money(line["next_due"]) in said


def test_the_items_and_families_of_a_statement_are_those_of_the_tables(rolled: RolledUp) -> None:
    items = as_rows((rolled.folder / "items.csv").read_text(encoding="utf-8"))
    families = as_rows((rolled.folder / "families.csv").read_text(encoding="utf-8"))
    for troop in standing_of(rolled):
        said = text_of((rolled.folder / "statements" / f"{troop}.pdf").read_bytes())
        for row in items:
            if row["troop"] == troop and row["sell_through"]:
                out = int(row["handed_out"]) + int(row["stall"])
                assert re.search(rf"{row['item']} \D*{int(row['available']):,} {out:,} ".replace("-", MINUS), said)
        for row in families:
            if row["troop"] == troop and row["participant"] != "troop":
                owes = Decimal(row["owes"])
                shown = f"{owes:,.2f}".replace("-", MINUS) if owes else "\N{EN DASH}"
                assert re.search(rf"{row['participant']} .*?{re.escape(shown)}", said), row


def test_a_statement_may_leave_the_families_out(trial: Trial, made: seasons.Made) -> None:
    with week_of(trial.book, made.weeks[2], with_families=False) as week:
        troop = max(week.families, key=lambda code: len(week.families[code]))
        said = text_of(statement(week, troop))
    assert not any(row["participant"] in said for row in week.families[troop] if row["participant"] != "troop")


def test_papers_are_tagged_and_titled_for_screen_readers(rolled: RolledUp) -> None:
    for path in [rolled.folder / "area.pdf", *(rolled.folder / "statements").iterdir()]:
        reader = pypdf.PdfReader(io.BytesIO(path.read_bytes()))
        root = reader.trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"]
        assert root["/Lang"] == "en"
        assert reader.metadata is not None
        assert "week 3" in str(reader.metadata.title)
        assert len(reader.pages) == 2


def test_the_areas_figures_are_the_sums_of_standing_csv(rolled: RolledUp) -> None:
    said = text_of((rolled.folder / "area.pdf").read_bytes())
    lines = standing_of(rolled).values()
    for name in (*PLACES, "owed", "past_due"):
        assert money(str(sum(Decimal(line[name]) for line in lines))) in said, name
    sent = sum(line["submitted"] == "yes" for line in lines)
    sold = sum(int(line["packages_sold"]) for line in lines)
    assert f"{sent} of {len(lines)} submissions are in; {sold:,} packages sold" in said
    for line in lines:
        if Decimal(line["past_due"]) > 0:
            row = f"{line['troop']} {money(line['owed'])} {money(line['past_due'])}"
            assert row in said


def test_what_goes_to_the_organisation_names_no_participant(trial: Trial, made: seasons.Made, tmp_path: Path) -> None:
    """A canary: no code of the book, no note, nowhere in any file of it; each heading of a sheet once."""
    rolled = roll_up(trial.book, made.weeks[2], out=tmp_path / "out", for_organisation=True)
    assert "families.csv" not in rolled.files
    kept_here = ("statements/", "letters/", "exceptions", "tables/families")
    assert not any(name.startswith(kept_here) for name in rolled.files)
    codes = {row["participant"] for name in ("roster", "families") for row in made.tables[name]} - {"troop", None}
    noted = ("families", "stalls", "banked", "cover")
    notes = {row.get("note") for name in noted for row in made.tables[name]} - {None, ""}
    assert codes
    assert notes
    for path in rolled.folder.rglob("*"):
        if path.is_file():
            said = words_of(path)
            assert said
            assert not [code for code in codes | notes if code in said], path.name
    workbook = openpyxl.load_workbook(rolled.folder / "rollup.xlsx")
    assert "Stalls" in workbook.sheetnames
    for sheet in workbook.worksheets:
        if sheet.title not in ("Area", "Notes"):
            heads = [str(cell.value).split("\n")[0] for cell in sheet[5] if cell.value]
            assert len(set(heads)) == len(heads), sheet.title


def words_of(path: Path) -> str:
    """All that a file says, as text."""
    match path.suffix:
        case ".xlsx":
            with zipfile.ZipFile(path) as parts:
                return " ".join(parts.read(name).decode("utf-8", "ignore") for name in parts.namelist())
        case ".parquet":
            return polars.read_parquet(path).write_csv()
        case _:
            return path.read_text(encoding="utf-8")


# Letters


def test_a_letter_is_a_draft_with_the_statement_attached(rolled: RolledUp) -> None:
    letters = sorted((rolled.folder / "letters").iterdir())
    assert letters
    for path in letters:
        message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        assert message["X-Unsent"] == "1"
        assert path.stem in message["Subject"]
        attached = next(message.iter_attachments())
        assert attached.get_content() == (rolled.folder / "statements" / f"{path.stem}.pdf").read_bytes()
        body = message.get_body()
        assert body is not None
        line = standing_of(rolled)[path.stem]
        if Decimal(line["past_due"]) > 0:
            assert money(line["past_due"]) in body.get_content()


def test_csv_round_trips(rolled: RolledUp) -> None:
    """RFC 4180: a reader gets back what was written, commas and quotes within a cell included."""
    text = (rolled.folder / "exceptions.csv").read_text(encoding="utf-8")
    again = io.StringIO()
    csv.writer(again, lineterminator="\n").writerows(csv.reader(io.StringIO(text)))
    assert again.getvalue() == text


def test_a_day_before_the_season_makes_papers_of_nothing(trial: Trial, made: seasons.Made, tmp_path: Path) -> None:
    day = date.fromisoformat(str(made.weeks[0])) - timedelta(days=30)
    made_of_nothing = roll_up(trial.book, day, out=tmp_path / "out")
    assert all(line["packages_sold"] == "0" for line in standing_of(made_of_nothing).values())
