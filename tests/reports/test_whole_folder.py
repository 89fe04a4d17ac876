"""A roll-up killed at any moment leaves what was there before, or the whole new one, and the next one clears up."""

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import season_files
import seasons
from trial import Trial

from pipelines.reports.rollup import roll_up

KILLS = 25
MAKER = """
import os, signal, sys
from datetime import date
from pathlib import Path
from pipelines.store.book import Book
from pipelines.reports.rollup import roll_up
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
for out in sys.stdin:
    child = os.fork()
    while child == 0:  # the child makes roll-up after roll-up until it is killed
        for day in sys.argv[2:]:
            roll_up(Book(Path(sys.argv[1])), date.fromisoformat(day), out=Path(out.strip()))
    print(child, flush=True)
"""


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    made = seasons.make(5, troops=2, weeks=3)
    folder = tmp_path_factory.mktemp("season")
    one = Trial(folder, made.text)
    (folder / "tables").mkdir()
    season_files.write_csvs(folder / "tables", made.tables)
    one.take_in(folder / "tables")
    return one


def as_of_if_whole(folder: Path) -> str:
    """The day a roll-up is of; fails where a file of its manifest is missing, more than it names, or differs."""
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    found = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and path.name != "manifest.json"
    }
    assert found == manifest["files"]
    return str(manifest["as_of"])


def kill(child: int) -> None:
    os.kill(child, signal.SIGKILL)
    while True:
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            return
        time.sleep(0.005)


def test_25_kills_at_random_moments(trial: Trial, tmp_path: Path) -> None:
    dice = random.Random(25)  # noqa: S311 - moments for a test
    with trial.book.reading() as con:
        days = [str(row[0]) for row in con.execute("select as_of from chosen.days order by as_of limit 2").fetchall()]
    command = [sys.executable, "-c", MAKER, str(trial.book.folder), *days]
    seen = []
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as maker:
        assert maker.stdin is not None
        assert maker.stdout is not None
        for number in range(KILLS):
            out = tmp_path / f"out {number % 3}"
            is_new = not out.exists()
            print(out, file=maker.stdin, flush=True)
            child = int(maker.stdout.readline())
            until = time.monotonic() + 30
            while is_new and number and not out.exists() and time.monotonic() < until:  # the first one dies young
                time.sleep(0.01)
            time.sleep(dice.random() * 0.5)
            kill(child)
            seen.append(as_of_if_whole(out) if out.exists() else "nothing yet")
        maker.stdin.close()
    assert set(seen) <= {"nothing yet", *days}
    assert len(set(seen)) > 1  # the moments were not all alike
    first = tmp_path / "out 1"
    roll_up(trial.book, trial.book.season().first_week_ending, out=first)
    assert as_of_if_whole(first)
    assert not list(tmp_path.glob(f".making-{first.name}-*"))  # what was broken off is cleared by the next
