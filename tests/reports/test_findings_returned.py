"""What goes back: the text, the command, the questions before a week is sent and after it came."""

from datetime import date
from pathlib import Path

import pytest
from made_files import written
from trial import FEEDS, W1, Trial
from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.definitions.records import Finding
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.messages.finding_lines import Question
from pipelines.reports.findings_returned import MOST_SAID, Returned, of_landed, with_sheets
from pipelines.store.book import Book
from pipelines.workflow import looking_back
from pipelines.workflow.preview import preview
from pipelines.workflow.slip_questions import slips

TROOPS = ["0417", "0031", "1282"]
FEED = {**FEEDS, "troops": "troop level leader\n0417 older Una~Vetchley\n0031 older -\n1282 older -"}
SUPPLY = "document troop item date packages kind\nD1 0417 GLA 2027-02-06 24 opening"
IN_CASES = {"Cover": [["troop", "0417"], ["week ending", date(2027, 2, 14)]],
            "Stock": [["Item", "On hand"], ["GLA", 2]]}  # fmt: skip
HELD = IN_CASES | {"Stock": [["Item", "On hand"], ["GLA", "two"]]}


def workbook(trial: Trial, sheets: dict[str, list[list[object]]], name: str = "0417 week 1.xlsx") -> Path:
    path = trial.folder / name
    path.write_bytes(written(sheets))
    return path


@pytest.fixture
def ready(trial: Trial) -> Trial:
    """A book that knows troops and what was supplied."""
    trial.send(**FEED, supply=SUPPLY)
    return trial


def run(trial: Trial, *words: str) -> tuple[int, str]:
    done = CliRunner().invoke(app, ["findings", "--book", str(trial.book.folder), *words])
    return done.exit_code, done.output


def test_the_text_names_leader_week_cells_and_what_to_type() -> None:
    found = [Finding("Stock", "D3", "two", "a whole number of packages, 0 or more", "Type it.")]
    one = Returned("in/0417 week 1.xlsx", found, (), "0417", date(2027, 2, 14), "Una Vetchley", date(2027, 2, 15))
    text = one.text()
    assert text.startswith(
        "Hello Una Vetchley,\n\nthank you for the workbook of troop 0417 for the week to 14 February (0417 week "
        "1.xlsx; it came in on 15 February). One thing needs mending before it can count:\n\n  1. Stock, D3: here "
        "stands two; "
        "expected is a whole number of packages, 0 or more. Type it. In place of two type 2."
    )
    assert "Please use codes in it, never names of children or buyers" in text
    assert not {"wrong", "error", "fault", "invalid", "failed"} & set(text.lower().split())


def test_a_long_list_is_cut_and_a_line_break_in_a_name_starts_no_line() -> None:
    found = [Finding("S", f"A{n * 2}", "x", "y", f"How {n}.") for n in range(1, 21)]
    text = Returned("a.xlsx", found, leader="Eve\nBcc: all").text()
    assert "Hello Eve Bcc: all," in text
    assert f"  {MOST_SAID}. " in text
    assert "and 8 more, which the copy lists." in text


def test_questions_alone_are_no_reproach() -> None:
    text = Returned("a.xlsx", [], [Question("Are the 2 cases?", (("Stock", "B2"),))]).text()
    assert "nothing needs mending" in text
    assert "One question:\n\n  1. Are the 2 cases? (Stock, B2)\n\nA slip in typing happens to all of us" in text
    assert "send the whole workbook" not in text


def test_a_week_is_asked_about_before_it_is_sent(ready: Trial) -> None:
    """Beside what has landed of the troop; nothing lands, and what must be mended comes before questions."""
    with ready.book.holding() as snapshot:
        found = preview(ready.book.season(), TROOPS, workbook(ready, IN_CASES), "week.xlsx", snapshot)
        held = preview(ready.book.season(), TROOPS, workbook(ready, HELD), "week.xlsx", snapshot)
    assert found.questions == [
        Question("On hand of Gladiolus bulbs: are the 2 cases? Please count in packages.", (("Stock", "B2"),))
    ]
    assert held.is_held
    assert not held.questions
    with looking_back.figures(ready.book, COORDINATOR) as figures:
        assert not figures.facts("versions", "0417")


def test_the_command_looks_a_file_over(ready: Trial) -> None:
    path = workbook(ready, HELD)
    code, said = run(ready, str(path))
    assert code == 1
    assert "mend  Stock, B2: found two; expected a whole number of packages" in said
    code, said = run(ready, str(workbook(ready, IN_CASES, "cases.xlsx")))
    assert code == 0
    assert "ask   Stock, B2: On hand of Gladiolus bulbs: are the 2 cases?" in said
    code, said = run(ready, str(path), "--text")
    assert "Hello Una Vetchley," in said


def test_the_command_tells_what_is_held_and_writes_the_copy(ready: Trial) -> None:
    ready.take_in(workbook(ready, HELD))
    out = ready.folder / "back.xlsx"
    code, said = run(ready, "--troop", "0417", "--week", "1", "--marked-up", str(out))
    assert (code, out.is_file()) == (1, True)
    assert "0417 week 1.xlsx (troop 0417, week to 2027-02-14): 1 thing to mend" in said
    ready.take_in(workbook(ready, IN_CASES, "again.xlsx"))
    code, said = run(ready, "--troop", "0417")
    assert code == 0
    assert "again.xlsx" in said
    assert "ask   Stock, B2" in said
    assert run(ready)[1].strip() == "Nothing is held."


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nothing.xlsx"], "There is no file nothing.xlsx."),
        (["x.xlsx", "--troop", "0417"], "Name a file, or a troop and week, not both."),
        (["--marked-up", "out.xlsx"], "A marked-up copy is of one file, and here are 0."),
    ],
)
def test_what_cannot_be_done_is_said(ready: Trial, words: list[str], said: str) -> None:
    with pytest.raises(Exception, match=said):
        CliRunner().invoke(app, ["findings", "--book", str(ready.book.folder), *words], catch_exceptions=False)


def test_ingest_says_how_many_slips_to_ask_about(ready: Trial) -> None:
    path = workbook(ready, IN_CASES)
    done = CliRunner().invoke(app, ["ingest", "--book", str(ready.book.folder), str(path)])
    assert "1 likely slip to ask about: troop 0417. `musterbook findings --troop 0417` says what to ask." in done.output


def test_the_demo_is_asked_about_its_cases_and_about_nothing_else(demo_book: Book) -> None:
    """Of 202 weeks the one whose count was typed in cases. Some families' card money is by chance just what their
    online orders come to, few of some thousand; every other slip would be a false alarm."""
    with looking_back.figures(demo_book, COORDINATOR) as figures:
        rows = [row for row in figures.rows("exceptions") if row["rule"] in slips()]
    asked = [(row["rule"], row["troop"], row["subject"]) for row in rows]
    assert [one for one in asked if one[0] != "card_is_online"] == [("cases_for_packages", "2048", "MDW")]
    assert len(asked) <= 6


def test_a_leader_gets_only_what_is_her_own(ready: Trial) -> None:
    ready.take_in(workbook(ready, HELD))
    with looking_back.figures(ready.book, COORDINATOR) as figures:
        (row,) = figures.files.held()
        one = of_landed(figures, row["file_no"])
        digest = (figures.files.one(row["file_no"]) or {})["sha256"]
    assert one is not None
    assert (one.troop, one.week_ending, one.leader) == ("0417", W1, "Una Vetchley")
    assert [sheet.name for sheet in with_sheets(one, ready.book, digest).sheets] == ["Cover", "Stock"]
    for troop, is_told in (("0417", True), ("0031", False)):
        with looking_back.figures(ready.book, Viewer("leader", frozenset({troop}))) as figures:
            assert (of_landed(figures, row["file_no"]) is not None) == is_told
            assert of_landed(figures, 1) is None  # a feed is not a leader's
