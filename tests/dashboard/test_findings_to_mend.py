"""The screens with something to mend: said grouped, with the copy to fetch and a text; asked before sending."""

import io
import re
from collections.abc import Iterator
from datetime import date

import openpyxl
import pytest
from made_files import written
from shown_screens import shown as screen
from streamlit.testing.v1 import AppTest
from trial import FEEDS, Trial

from dashboard.data import downloads, readings, snapshots
from pipelines.figures.viewer import COORDINATOR, Viewer

LEADER = Viewer("leader", frozenset({"0417"}))
SUPPLY = "document troop item date packages kind\nD1 0417 GLA 2027-02-06 24 opening"
COVER = [["troop", "0417"], ["week ending", date(2027, 2, 14)]]
HELD = {"Cover": COVER, "Stock": [["Item", "On hand"], ["GLA", "two"], ["HRB", "two"]]}
IN_CASES = {"Cover": COVER, "Stock": [["Item", "On hand"], ["GLA", 2]]}


@pytest.fixture
def ready(trial: Trial) -> Iterator[Trial]:
    """A book that knows troops and what was supplied, opened by the coordinator."""
    trial.send(**FEEDS, supply=SUPPLY)
    snapshots.open_book(trial.book, lambda: COORDINATOR)
    yield trial
    snapshots.open_book(None)


def take_in(trial: Trial, sheets: dict[str, list[list[object]]]) -> int:
    path = trial.folder / "0417 week 1.xlsx"
    path.write_bytes(written(sheets))
    (outcome,) = trial.take_in(path)
    return outcome.file_no


def said(at: AppTest) -> str:
    assert not at.exception, [one.value for one in at.exception]
    return re.sub(r"\\([^\w\s])", r"\1", "\n".join(one.value for one in at.markdown))


def test_what_is_held_is_said_once_with_a_copy_and_a_text(ready: Trial) -> None:
    file_no = take_in(ready, HELD)
    at = screen("submissions")
    assert f"[Copy with a note on each cell](/fetch/marked-up.xlsx?file={file_no})" in said(at)
    shown = next(one.value for one in at.dataframe if "What to do" in one.value.columns)
    assert list(shown["Where"]) == ["Stock, B2 to B3"]
    assert any("1. Stock, B2 to B3: here stands two" in one.value for one in at.code)


def test_the_copy_is_fetched_by_whoever_may_see_the_troop(ready: Trial) -> None:
    file_no = take_in(ready, HELD)
    for viewer in (COORDINATOR, LEADER):
        found = downloads._copy(viewer, "marked-up.xlsx", {"file": str(file_no)})
        assert found is not None
        assert found[0] == "0417 week 1, to mend.xlsx"
        assert openpyxl.load_workbook(io.BytesIO(found[1]))["Stock"]["B2"].comment
    stranger, visitor = Viewer("other", frozenset({"0031"})), Viewer("visitor", frozenset(), sees_area=True)
    for viewer in (stranger, visitor):
        assert downloads._copy(viewer, "marked-up.xlsx", {"file": str(file_no)}) is None
    for number in ("", "0", "9999", "-1", "1e3", "\u0661", "9" * 30, "../1"):
        assert downloads._copy(COORDINATOR, "marked-up.xlsx", {"file": number}) is None
    assert downloads._copy(LEADER, "marked-up.xlsx", {"file": "1"}) is None  # a feed is the coordinator's


def test_a_leader_is_asked_before_sending_and_may_send_all_the_same(ready: Trial) -> None:
    snapshots.open_book(ready.book, lambda: LEADER)
    at = screen("send_week")
    at.file_uploader(key="workbook_file").set_value(
        ("week.xlsx", written(IN_CASES), "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
    )
    next(one for one in at.button if one.label == "Look the workbook over").click().run()
    assert "A question. **Stock, B2**: On hand of Gladiolus bulbs: are the 2 cases?" in said(at)
    assert [one.label for one in at.get("download_button")] == ["Copy with a note on each cell"]
    at.button(key="send").click().run()
    assert not at.exception
    snapshots.open_book(ready.book, lambda: LEADER)  # which closes the queue: all figures are made by then
    assert readings.now().row("standing", None, "0417")["submitted"]  # type: ignore[index]


def test_a_question_about_what_came_in_stands_with_its_file(ready: Trial) -> None:
    file_no = take_in(ready, IN_CASES)
    back = readings.now().returned(file_no)
    assert back is not None
    assert [(one.where, one.asked) for one in back.questions] == [
        ("Stock, B2", "On hand of Gladiolus bulbs: are the 2 cases? Please count in packages.")
    ]


def test_a_photo_is_dismissed_by_a_button_and_stays_kept(ready: Trial) -> None:
    photo = ready.folder / "stall.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0 a picture")
    (outcome,) = ready.take_in(photo)
    at = screen("submissions")
    assert [one.label for one in at.expander if "stall.jpg" in one.label.replace("\\", "")]
    at.button(key=f"dismiss_{outcome.file_no}").click().run()
    assert not at.exception
    assert not [one.label for one in at.expander if "stall.jpg" in one.label.replace("\\", "")]
    with ready.book.reading() as con:
        (digest,) = con.execute("select sha256 from landed.files where name = 'stall.jpg'").fetchone()
    assert ready.book.landed_path(digest).read_bytes() == photo.read_bytes()


def test_a_question_about_a_file_is_answered_by_its_button(ready: Trial) -> None:
    """Both answers stand there with what they mean; once answered the rows count and nothing is held."""
    (outcome,) = ready.send(stock="item troop week_ending on_hand\nGLA 0031 2027-02-14 7\nGLA 0031 2027-02-14 7")
    assert outcome.status == "held"
    at = screen("submissions")
    labels = {one.label for one in at.button}
    assert {"One and the same: count it once", "It happened twice: count both"} <= labels
    troops = next(one.value for one in at.dataframe if "Week 1" in one.value.columns)["Troop"]
    chosen = (list(troops).index("0031"), "Week 1")  # its cell of the grid below says the same, with the same buttons
    at.session_state["grid"] = {"selection": {"rows": [], "columns": [], "cells": [chosen]}}
    at.run()
    assert not at.exception, [one.value for one in at.exception]
    assert [one.label for one in at.button].count("One and the same: count it once") == 2
    next(one for one in at.button if one.label == "One and the same: count it once").click().run()
    assert "taken in, 1 row" in said(at)
    assert "Nothing is held." in [one.value for one in at.success]
    with ready.book.reading() as con:
        assert con.execute("select on_hand from accepted.stock where troop = '0031'").fetchall() == [(7,)]
