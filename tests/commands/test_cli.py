"""How a command ends: 0 done, 1 done but something is held, 2 not done; always a sentence, never a traceback."""

import os
import subprocess
import sys
from collections.abc import Callable

import pytest
import typed_commands
from trial import Trial

from pipelines import cli, commands
from pipelines.commands import verify
from pipelines.store import book, engine


def ended(monkeypatch: pytest.MonkeyPatch, *typed: str) -> int:
    """The exit status of what is typed."""
    monkeypatch.setattr(sys, "argv", ["musterbook", *typed])
    with pytest.raises(SystemExit) as end:
        cli.main()
    return int(end.value.code or 0)  # type: ignore[call-overload]


def full_disk() -> None:
    raise OSError(28, "No space left on device", "warehouse.duckdb")


def corrupt() -> None:
    raise engine.Fault("IO Error: Corrupt database file: computed checksum 1 does not match stored 2\nat block 3")


def no_space() -> None:
    raise engine.Fault('IO Error: Could not write file "x.duckdb": No space left on device')


def no_memory() -> None:
    raise MemoryError


def mistake() -> None:
    raise KeyError("cash")


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (full_disk, "Not done: No space left on device (warehouse.duckdb)."),
        (corrupt, "Not done: IO Error: Corrupt database file"),
        (no_space, "Make room and try again"),
        (no_memory, "not enough memory"),
        (mistake, "not foreseen: KeyError: 'cash'"),
    ],
)
def test_whatever_stops_a_command_is_a_sentence(
    trial: Trial,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    fault: Callable[[], None],
    said: str,
) -> None:
    monkeypatch.setattr(verify, "open_book", lambda _folder: fault())
    assert ended(monkeypatch, "verify", "--book", str(trial.book.folder)) == commands.NOT_DONE
    shown = capsys.readouterr().err
    assert said in shown
    assert "Traceback" not in shown


def test_who_mends_the_program_may_see_where(trial: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verify, "open_book", lambda _folder: mistake())
    monkeypatch.setenv("MUSTERBOOK_TRACEBACK", "1")
    monkeypatch.setattr(sys, "argv", ["musterbook", "verify", "--book", str(trial.book.folder)])
    with pytest.raises(KeyError):
        cli.main()


@pytest.mark.parametrize(
    "typed", [["verify", "--colour"], ["nothing-like-this"], ["ingest"], ["rollup", "--book", "/no/such/book"]]
)
def test_what_makes_no_sense_is_not_done(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], typed: list[str]
) -> None:
    assert ended(monkeypatch, *typed) == commands.NOT_DONE
    assert capsys.readouterr().err


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["standing", "--week", "2037-02-14"], "is far from the season, which runs from 2027-02-08 to 2027-03-21"),
        (["standing", "--week", "2017-02-14"], "is far from the season"),
        (["standing", "--week", "\N{SUPERSCRIPT TWO}"], "type a week number such as 6"),
        (["changes", "--since", "0001-01-01"], "type a time such as 2027-03-21T20:00"),
    ],
)
def test_a_slip_in_a_day_is_said_and_computes_nothing(trial: Trial, typed: list[str], said: str) -> None:
    done = typed_commands.typed(*typed, "--book", str(trial.book.folder))
    assert (done.returncode, done.stdout) == (commands.NOT_DONE, "")
    assert said in done.stderr


def test_asking_for_help_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    assert ended(monkeypatch, "verify", "--help") == 0


def test_an_account_without_a_name_is_named_by_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    def nameless() -> str:
        raise KeyError("getpwuid(): uid not found: 12345")

    monkeypatch.setattr(book.getpass, "getuser", nameless)
    assert book.operator() == f"user {os.getuid()}"


def test_a_terminal_that_cannot_show_a_letter_shows_a_question_mark(trial: Trial) -> None:
    """A file's name in letters that Latin-1 does not have; a minus is no question."""
    path = trial.folder / "αβγ \u22124.csv"
    path.write_text("nothing,that,is,known", encoding="utf-8")
    command = [sys.executable, "-m", "pipelines", "ingest", str(path), "--book", str(trial.book.folder)]
    done = subprocess.run(command, capture_output=True, env=os.environ | {"PYTHONIOENCODING": "latin-1"}, check=False)
    assert (done.returncode, done.stderr) == (commands.HELD, b"")
    assert done.stdout.startswith(b"??? -4.csv: held")
