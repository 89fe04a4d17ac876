"""What only a person can say is asked: rows alike, part or whole of a week, which of two workbooks; and answered."""

import os
import shutil
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
import season_files
from trial import W1, Trial, rows_of

from pipelines.definitions.errors import Stop
from pipelines.figures.computing import compute
from pipelines.store import engine, landed_tables
from pipelines.upkeep import proof
from pipelines.workflow import take_in
from pipelines.workflow.publishing import silent
from pipelines.workflow.take_in import Outcome

WEEK = {"troop": "0417", "week_ending": W1}
COVER = WEEK | {"prepared_by": "leader", "prepared_on": W1, "bank_balance": None, "balance_on": None, "note": None}
SUPPLY = "document troop item date packages kind\n"
DEPOSITS = "troop week_ending date amount slip\n"
FAMILIES = "troop week_ending participant item packages\n"


def family(item: str, packages: int) -> dict[str, object]:
    money = {"cash": None, "card": None, "note": None}
    return WEEK | {"participant": "0417-01", "item": item, "packages": packages} | money


def told(outcome: Outcome) -> list[tuple[str, str]]:
    return [(one.cell, one.found) for one in outcome.findings if not one.is_note]


def send(trial: Trial, **tables: str) -> Outcome:
    """Takes one table in; nothing is published, which is not what is looked at here."""
    ((name, text),) = tables.items()
    folder = trial.folder / f"in {len(list(trial.folder.iterdir()))}"
    folder.mkdir()
    rows = rows_of(text)
    season_files.write_csv(folder / f"{name}.csv", rows)
    (one,) = take(trial, folder)
    return one


def take(trial: Trial, *paths: Path) -> list[Outcome]:
    return take_in.ingest(trial.book, paths, "tests", publishes=False)


def say(trial: Trial, file_no: int, word: str) -> Outcome:
    (one,) = take_in.answer(trial.book, file_no, word, "coordinator", publishes=False)
    return one


def counted(trial: Trial, what: str) -> int | Decimal | None:
    """What counts of a table: an expression over its accepted rows."""
    table = what.partition(" from ")[2]
    with trial.book.writing() as con, landed_tables.apart(con) as memory:
        compute(memory, trial.book.season(), [], only=frozenset({f"accepted.{table}"}))
        return memory.sql(f"select {what.replace(' from ', ' from accepted.')}").fetchall()[0][0]  # noqa: S608


def is_proved(trial: Trial) -> bool:
    """Whether what is stored of every file, taken in again from its bytes, is the same."""
    with trial.book.writing() as con:
        listed = engine.rows(con, "select * from landed.files order by landed_at, file_no")
        return not proof._rows(trial.book, con, listed, {file["file_no"] for file in listed}, silent).found


@pytest.mark.parametrize(("word", "packages"), [("once", 53), ("twice", 101)])
def test_two_lines_of_a_receipt_alike_are_asked_about(trial: Trial, word: str, packages: int) -> None:
    one = send(trial, supply=SUPPLY + "D1 0417 GLA 2027-02-10 48 depot\n" * 2 + "D2 0417 HRB 2027-02-10 5 depot")
    assert told(one) == [("F3", "D1 0417 GLA depot a second time, alike: first in row 2")]
    assert (one.status, one.rows, one.rows_held, one.packages_held) == ("partly held", 3, 2, 96)
    one = say(trial, one.file_no, word)
    assert (one.status, told(one)) == ("taken in", [])
    assert counted(trial, "sum(packages) from supply") == packages
    assert is_proved(trial)


def test_a_line_number_says_that_two_rows_are_two_or_one(trial: Trial) -> None:
    head = "line " + SUPPLY
    one = send(trial, supply=head + "7 D1 0417 GLA 2027-02-10 48 depot\n" * 2)
    assert (one.status, told(one), one.rows) == ("taken in", [], 1)
    assert any("twice alike" in note.found for note in one.findings)
    one = send(trial, supply=head + "1 D2 0417 GLA 2027-02-10 9 depot\n2 D2 0417 GLA 2027-02-10 9 depot")
    assert one.status == "held"


def test_what_there_can_be_but_one_of_is_taken_once_and_that_is_told(trial: Trial) -> None:
    one = send(trial, roster="troop participant registered_on\n" + "0417 0417-09 2026-10-01\n" * 2)
    assert (one.status, one.rows, told(one)) == ("taken in", 1, [])
    assert [note.how for note in one.findings if "twice" in note.found] == ["Each was taken once."]
    differs = "troop participant registered_on school\n0417 0417-08 2026-10-01 A\n0417 0417-08 2026-10-01 B"
    one = send(trial, roster=differs)
    assert [cell for cell, _found in told(one)] == ["B3"]


def test_an_item_counted_at_two_shelves(trial: Trial, tmp_path: Path) -> None:
    sheets: season_files.Tables = {name: [] for name in season_files.SHEETS}
    sheets["cover"] = [COVER]
    sheets["stock"] = [WEEK | {"item": "GLA", "received": 0, "damaged": 0, "on_hand": 12}] * 2
    sheets["families"] = [family("GLA", 3)]
    (one,) = take(trial, season_files.write_workbook(tmp_path / "0417.xlsx", "0417", W1, sheets))
    assert (one.status, [cell for cell, _found in told(one)]) == ("held", ["A3"])
    one = say(trial, one.file_no, "twice")
    assert (one.status, counted(trial, "sum(on_hand) from stock")) == ("taken in", 24)


def test_an_answer_that_nobody_waits_for_is_refused(trial: Trial) -> None:
    one = send(trial, supply=SUPPLY + "D1 0417 GLA 2027-02-10 48 depot")
    with pytest.raises(Stop):
        say(trial, one.file_no, "twice")
    with pytest.raises(Stop):
        say(trial, 9999, "once")


@pytest.mark.parametrize(("word", "banked"), [("adds", 50), ("replaces", 30)])
def test_a_second_table_of_a_week_that_shares_no_row(trial: Trial, word: str, banked: int) -> None:
    send(trial, banked=DEPOSITS + "0417 2027-02-14 2027-02-10 20.00 A1")
    one = send(trial, banked=DEPOSITS + "0417 2027-02-14 2027-02-13 30.00 A2")
    assert (one.status, [cell for cell, _found in told(one)]) == ("held", ["B2"])
    assert counted(trial, "sum(amount) from banked") == 20
    assert say(trial, one.file_no, word).status == "taken in"
    assert counted(trial, "sum(amount) from banked") == banked
    assert is_proved(trial)


def test_a_correction_of_one_part_does_not_drop_the_other(trial: Trial) -> None:
    send(trial, families=FAMILIES + "0417 2027-02-14 0417-01 GLA 5")
    one = send(trial, families=FAMILIES + "0417 2027-02-14 0417-02 GLA 7")
    say(trial, one.file_no, "adds")
    one = send(trial, families=FAMILIES + "0417 2027-02-14 0417-01 GLA 6")
    assert one.status == "held"
    say(trial, one.file_no, "adds")
    assert counted(trial, "sum(packages) from families") == 13


def test_a_newer_table_that_shares_a_row_replaces_as_before(trial: Trial) -> None:
    send(trial, banked=DEPOSITS + "0417 2027-02-14 2027-02-10 20.00 A1")
    one = send(trial, banked=DEPOSITS + "0417 2027-02-14 2027-02-10 25.00 A1")
    assert (one.status, counted(trial, "sum(amount) from banked")) == ("taken in", 25)
    one = send(trial, banked="troop week_ending date amount\n0417 2027-02-14 - -")  # there was nothing
    assert (one.status, counted(trial, "sum(amount) from banked")) == ("taken in", None)


PAIRS = (
    ("9481 week 5 corrected.xlsx", "9481 week 5.xlsx"), ("week (2).xlsx", "week.xlsx"),
    ("week - Copy.xlsx", "week.xlsx"), ("FINAL week.xlsx", "week.xlsx"), ("week-v2.xlsx", "week.xlsx"),
    ("v10.xlsx", "v9.xlsx"),
)  # fmt: skip


def save(folder: Path, name: str, packages: int, saved: datetime | None, by_file: datetime | None = None) -> Path:
    sheets: season_files.Tables = {name: [] for name in season_files.SHEETS}
    sheets["cover"], sheets["families"] = [COVER], [family("GLA", packages)]
    sheets["stock"] = [WEEK | {"item": "GLA", "received": 48, "damaged": 0, "on_hand": 40}]
    folder.mkdir(exist_ok=True)
    path = season_files.write_workbook(folder / name, "0417", W1, sheets)
    book = openpyxl.load_workbook(path)
    book.save(path)
    season_files.stamp(path, saved)
    if by_file:
        os.utime(path, (by_file.timestamp(),) * 2)
    return path


NOON = datetime(2027, 2, 15, 12, tzinfo=UTC)


@pytest.mark.parametrize(("newer", "older"), PAIRS)
def test_of_two_workbooks_the_one_saved_later_counts_and_it_is_said(
    trial: Trial, tmp_path: Path, newer: str, older: str
) -> None:
    save(tmp_path / "in", newer, 9, NOON + timedelta(hours=2))
    save(tmp_path / "in", older, 3, NOON)
    outcomes = {one.name: one for one in take(trial, tmp_path / "in")}
    assert {one.status for one in outcomes.values()} == {"taken in"}
    assert "saved later" in outcomes[f"in/{newer}"].findings[0].how
    assert counted(trial, "sum(packages) from families") == 9


def test_the_files_own_time_where_the_document_says_none(trial: Trial, tmp_path: Path) -> None:
    save(tmp_path / "in", "a corrected.xlsx", 9, None, NOON + timedelta(hours=2))
    save(tmp_path / "in", "b.xlsx", 3, None, NOON)
    assert {one.status for one in take(trial, tmp_path / "in")} == {"taken in"}
    assert counted(trial, "sum(packages) from families") == 9
    assert is_proved(trial)  # though the bytes do not hold it


def test_two_workbooks_of_one_moment_are_held_and_the_choice_is_asked(trial: Trial, tmp_path: Path) -> None:
    save(tmp_path / "in", "a.xlsx", 9, NOON)
    save(tmp_path / "in", "b.xlsx", 3, NOON + timedelta(seconds=20))
    first, second = take(trial, tmp_path / "in")
    assert {first.status, second.status} == {"held"}
    assert "Families, B2: 9 here, 3 there" in first.findings[0].found
    assert say(trial, first.file_no, "counts").status == "taken in"
    assert counted(trial, "sum(packages) from families") == 9
    with trial.book.writing() as con:
        assert con.execute("select count(*) from landed.units where accepted_at is null").fetchall() == [(0,)]
    assert is_proved(trial)


def test_the_same_cells_saved_twice_need_no_choice(trial: Trial, tmp_path: Path) -> None:
    save(tmp_path / "in", "a.xlsx", 9, NOON)
    shutil.copy(tmp_path / "in/a.xlsx", tmp_path / "in/b.xlsx")
    season_files.stamp(tmp_path / "in/b.xlsx", NOON + timedelta(seconds=5))
    assert {one.status for one in take(trial, tmp_path / "in")} == {"taken in"}
    assert counted(trial, "sum(packages) from families") == 9
