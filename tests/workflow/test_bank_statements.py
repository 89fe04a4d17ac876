"""A statement's lines are shown, the chosen ones kept, and nothing else of it."""

import hashlib
from pathlib import Path

import pytest
from statements import Booked, camt, ofx_1, ofx_2
from trial import FEEDS, W3, Trial, accepted
from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.definitions.errors import Stop
from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import bank_statements, looking_back

TROOPS = "troop level account\n0417 younger 4711\n0031 older 0815\n1282 older -"
BOOK = {
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 10\n0417 2027-02-21 GLA 10",
    "banked": """
        troop week_ending date       amount slip
        0417  2027-02-14  2027-02-09 52.00  4711
        0417  2027-02-14  2027-02-10 31.00  -""",
}
LINES = [
    Booked("b1", "2027-02-10", "52.00", "COUNTER 4711"),
    Booked("b2", "2027-02-11", "31.00", "COUNTER"),
    Booked("b3", "2027-02-11", "-84.20", "RENT OF A PRIVATE FLAT"),
]


@pytest.fixture
def trial(tmp_path: Path) -> Trial:
    one = Trial(tmp_path)
    assert accepted(one.send(**{**FEEDS, "troops": TROOPS}))
    assert accepted(one.send(**BOOK))
    return one


def put(trial: Trial, payload: bytes, name: str = "march.ofx") -> Path:
    path = trial.folder / name
    path.write_bytes(payload)
    return path


def everything(folder: Path) -> bytes:
    """All bytes of the book."""
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


@pytest.mark.parametrize("payload", [ofx_1(LINES), ofx_2(LINES), camt(LINES)])
def test_the_lines_are_shown_with_what_they_answer_and_nothing_is_kept(trial: Trial, payload: bytes) -> None:
    before = everything(trial.book.folder)
    lines, notes = bank_statements.lines_of(trial.book, put(trial, payload), "march")
    assert [(one.troop, one.line, str(one.amount), one.answers) for one in lines] == [
        ("0417", "b1", "52.00", "deposit of 9 February, slip 4711"),
        ("0417", "b2", "31.00", "deposit of 10 February"),
        ("0417", "b3", "-84.20", ""),
    ]
    assert notes == []
    assert everything(trial.book.folder) == before


def test_only_the_chosen_lines_are_kept(trial: Trial) -> None:
    path = put(trial, ofx_1(LINES))
    lines, _ = bank_statements.lines_of(trial.book, path, path.name)
    done = bank_statements.keep(trial.book, [one for one in lines if one.is_the_sales], "tests")
    assert (done.status, done.rows) == ("taken in", 2)
    with looking_back.figures(trial.book, COORDINATOR, W3) as figures:
        assert [(row["line"], row["state"]) for row in figures.rows("bank", W3)] == [
            ("b1", "matched"),
            ("b2", "matched"),
        ]
    assert b"PRIVATE FLAT" not in everything(trial.book.folder)
    again, _ = bank_statements.lines_of(trial.book, path, path.name)
    assert [(one.line, one.is_kept) for one in again] == [("b1", True), ("b2", True), ("b3", False)]
    with pytest.raises(Stop, match="not kept already"):
        bank_statements.keep(trial.book, again[:2], "tests")


def test_a_statement_sent_like_any_file_is_not_kept(trial: Trial) -> None:
    for name, payload in (
        ("a.ofx", ofx_1(LINES)),
        ("b.ofx", ofx_2(LINES)),
        ("c.xml", camt(LINES)),
        ("d.csv", ofx_1(LINES)),
    ):
        outcome = trial.take_in(put(trial, payload, name))[0]
        assert outcome.status == "not read"
        assert "bank" in outcome.findings[0].how
    assert b"PRIVATE FLAT" not in everything(trial.book.folder)


@pytest.mark.parametrize(
    ("account", "troop", "own", "said"),
    [
        ("000009999", "", None, "Say which troop's it is"),
        ("000000815", "0417", None, "is troop 0031's, not troop 0417's"),
        ("000000815", "0417", {"0417"}, "not the account of a troop of yours"),
        ("000000815", "", {"0417"}, "not the account of a troop of yours"),
        ("000009999", "0031", {"0417"}, "not the account of a troop of yours"),
    ],
)
def test_whose_account_it_is(trial: Trial, account: str, troop: str, own: set[str] | None, said: str) -> None:
    path = put(trial, ofx_1(LINES, account))
    with pytest.raises(Stop, match=said):
        bank_statements.lines_of(trial.book, path, path.name, troop=troop, own=own)


def test_an_account_that_the_list_of_troops_does_not_tell(trial: Trial) -> None:
    path = put(trial, ofx_1(LINES, "000009999"))
    lines, _ = bank_statements.lines_of(trial.book, path, path.name, troop="1282", own={"1282"})
    assert {one.troop for one in lines} == {"1282"}


def test_other_money_is_told(trial: Trial) -> None:
    path = put(trial, camt(LINES, currency="EUR"))
    with pytest.raises(Stop, match="kept in EUR; the season's money is USD"):
        bank_statements.lines_of(trial.book, path, path.name)


def test_a_table_in_the_contracts_headers(trial: Trial) -> None:
    path = put(trial, b"line,date,amount,text\nb1,2027-02-10,52.00,COUNTER\nb9,2027-02-10,1.00,x\n", "lines.csv")
    with pytest.raises(Stop, match="no headers known"):
        bank_statements.lines_of(trial.book, path, path.name)
    path = put(
        trial, b"troop,line,date,amount,text\n0417,b1,2027-02-10,52.00,COUNTER\n0417,b9,2027-02-10,1.00,x\n", "l.csv"
    )
    lines, _ = bank_statements.lines_of(trial.book, path, path.name)
    assert [(one.line, one.answers) for one in lines] == [("b1", "deposit of 9 February, slip 4711"), ("b9", "")]
    path = put(trial, b"troop,line,date,amount\n0417,b1,2027-02-10,5Z\n", "l.csv")
    with pytest.raises(Stop, match=r"l\.csv, D2: 5Z"):
        bank_statements.lines_of(trial.book, path, path.name)


MAPPING = """
table = "bank_lines"
headers = ["Number", "Booked", "Paid"]
[columns]
line = "Number"
date = "Booked"
amount = {header = "Paid", decimals = "comma"}
[constants]
troop = "0417"
"""


def test_a_table_through_a_mapping(trial: Trial) -> None:
    path = put(trial, b"Number;Booked;Paid\nb1;2027-02-10;52,00\nb9;2027-02-10;1.052,00\n", "export.csv")
    only = f'only_for = ["{hashlib.sha256(path.read_bytes()).hexdigest()}"]\n'
    (trial.book.mappings / "bank.toml").write_text(only + MAPPING)
    lines, _ = bank_statements.lines_of(trial.book, path, path.name, troop="0417")
    assert [(one.troop, one.line, str(one.amount), one.answers != "") for one in lines] == [
        ("0417", "b1", "52.00", True),
        ("0417", "b9", "1052.00", False),
    ]


def test_the_command_shows_then_keeps(trial: Trial, tmp_path: Path) -> None:
    path = put(trial, ofx_1(LINES))
    run = CliRunner()
    shown = run.invoke(app, ["bank", str(path), "--book", str(trial.book.folder)])
    assert shown.exit_code == 0, shown.output
    assert "deposit of 9 February, slip 4711" in shown.output
    assert "2 of 3 lines answer the book" in shown.output
    kept = run.invoke(app, ["bank", str(path), "--keep", "matching", "--book", str(trial.book.folder)])
    assert "2 lines kept" in kept.output
    listed = run.invoke(app, ["bank", "--book", str(trial.book.folder), "--all", "--week", "3"])
    assert listed.exit_code == 0
    assert listed.output.count("matched") == 2
    assert "2 of 2 lines answer the book; 0 rows of the book have no line." in listed.output
    wrong = run.invoke(app, ["bank", str(path), "--keep", "7", "--book", str(trial.book.folder)])
    assert "numbered 1 to 3" in str(wrong.exception)
