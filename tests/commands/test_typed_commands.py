"""The README's commands run as typed, but for the first (test_first_command.py).

The program that is installed makes the book and serves it; the others run in processes forked from one that has
everything loaded.
"""

import re
import shlex
import shutil
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from kills import Runner, runner
from opened import TYPED, ended, opened_at

import demo_warehouse

COMMANDS = [line for line in TYPED if line.startswith("musterbook ")]
BIN = Path(sys.executable).parent
TROOPS = ("0417", "0448", "0854")  # whom the README speaks of: their workbooks come in


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder that holds what the README speaks of: feeds and an inbox."""
    demo_warehouse.make(tmp_path / "made")
    inbox = tmp_path / "made" / "inbox"
    assert set(re.findall(r"\b\d{4}\b(?!-)", " ".join(COMMANDS))) - {"2027"} == set(TROOPS)
    for path in inbox.glob("week-*/* week *.xlsx"):
        if path.name[:4] not in TROOPS:
            path.unlink()
    shutil.copytree(inbox / "feeds", tmp_path / "feeds")
    shutil.copytree(inbox, tmp_path / "inbox")
    return tmp_path


def serve(typed: list[str], place: Path) -> None:
    process = subprocess.Popen(
        [*typed, "--port", "0"], cwd=place, stdout=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        with urllib.request.urlopen(opened_at(process), timeout=20) as page:
            assert page.status == 200
    finally:
        assert ended(process) == 0
        assert process.stdout
        process.stdout.close()


def run(words: list[str], place: Path, loaded: Runner) -> None:
    installed = [str(BIN / words[0]), *words[1:]]
    if words[1] == "serve":
        serve(installed, place)
    elif words[1] == "new":
        subprocess.run(installed, cwd=place, capture_output=True, check=True)
        shutil.copyfile(place / "made" / "season.toml", place / "spring" / "season.toml")
    else:
        done = loaded.run(words[1:])
        assert done.status in (0, 1), (words, done.said)


def test_every_other_command_runs_as_typed(place: Path) -> None:
    """In order."""
    assert len(COMMANDS) >= 6
    with runner(place / "none is killed", place) as loaded:
        for line in COMMANDS:
            run(shlex.split(line), place, loaded)
    assert (place / "spring" / "out").is_dir()
