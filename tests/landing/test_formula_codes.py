"""Codes that a spreadsheet would run: refused at the door unless the roster has them, and never written to be run."""

import csv
import io
from pathlib import Path

import pytest
from blown_up import sheets
from made_files import written
from trial import W1, Trial

from pipelines.reports.csv_tables import table_text
from pipelines.workflow.preview import preview

RUN = "=HYPERLINK(A1)"
CODES = [RUN, "+1-555", "@SUM(A1)", "-2+3"]
ROSTER = """
    troop  participant     registered_on  contact_on_file
    0417   0417-01         2026-10-01     yes
    0417   =HYPERLINK(A1)  2026-10-01     yes"""


def week(folder: Path, *codes: str) -> Path:
    path = folder / "0417 week.xlsx"
    stall = ["2027-02-10", "10:00", "Gate", 2, 12, " ".join(codes)]
    path.write_bytes(written(sheets(Families=[[code, 1, 0, 6, 0, ""] for code in codes], Stalls=[stall])))
    return path


@pytest.mark.parametrize("code", CODES)
def test_a_code_like_a_formula_is_refused_at_the_door(trial: Trial, tmp_path: Path, code: str) -> None:
    path = week(tmp_path, "0417-01", code)
    with trial.book.holding() as snapshot:
        looked = preview(trial.book.season(), ["0417", "0031"], path, path.name, snapshot)
    [outcome] = trial.take_in(path)
    for findings in (looked.findings, outcome.findings):
        faults = [one for one in findings if not one.is_note]
        assert {one.sheet for one in faults} == {"Families", "Stalls"}
        assert {one.how for one in faults} == {"Type the code as the roster has it."}
    assert outcome.status == "held"


def test_one_that_the_roster_has_is_taken_and_written_so_that_it_is_not_run(trial: Trial, tmp_path: Path) -> None:
    trial.send(roster=ROSTER)
    path = week(tmp_path, "0417-01", RUN)
    with trial.book.holding() as snapshot:
        assert not preview(trial.book.season(), ["0417", "0031"], path, path.name, snapshot).is_held
    [outcome] = trial.take_in(path)
    assert outcome.status == "taken in"
    with trial.asked("families", days=[W1]) as figures:
        rows = list(csv.reader(io.StringIO(table_text(figures, "families", W1))))
    assert f"'{RUN}" in [row[1] for row in rows]
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "@"))]
