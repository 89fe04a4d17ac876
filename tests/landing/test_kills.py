"""`ingest` killed at random moments: nothing is lost, doubled or half, and readers always read a whole state.

25 times a process takes the next week in and is killed; then a last one is left in peace. The figures in the end are
those of a book that was never disturbed. (test_reports_kill.py does the same to roll-ups.)
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import season_files
import seasons
from trial import Trial

from pipelines.definitions.contract import TABLES
from pipelines.store.book import Book

KILLS = 25
TAKER = """
import os, signal, sys
from pathlib import Path
from pipelines.workflow import take_in
from pipelines.store.book import Book
from pipelines.definitions.contract import TABLES
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
for folder in sys.stdin:
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        take_in.ingest(Book(Path(sys.argv[1])), [Path(folder.strip())], "tests")
        os._exit(0)
    print(child, flush=True)
"""


class Taker:
    """A program that has everything loaded and takes a folder in, in a process of its own each time."""

    def __init__(self, book: Book) -> None:
        command = [sys.executable, "-c", TAKER, str(book.folder)]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def start(self, folder: Path) -> int:
        assert self.process.stdin
        assert self.process.stdout
        print(folder, file=self.process.stdin, flush=True)
        return int(self.process.stdout.readline())


def is_there(child: int) -> bool:
    try:
        os.kill(child, 0)
    except ProcessLookupError:
        return False
    return True


def wait_for(child: int) -> None:
    while is_there(child):
        time.sleep(0.002)


@contextmanager
def taker(book: Book) -> Iterator[Taker]:
    one = Taker(book)
    try:
        yield one
    finally:
        one.process.communicate()


def rows_by_file(book: Book) -> dict[str, dict[str, int]]:
    """What a reader of the published snapshot finds: for each file that landed, its rows in each table."""
    if not book.has_snapshot():
        return {}
    with book.reading() as con:
        found: dict[str, dict[str, int]] = {
            name: {} for (name,) in con.execute("select name from landed.files where what <> 'season'").fetchall()
        }
        for table in TABLES:
            query = f"select f.name, count(*) from landed.{table} join landed.files f using (file_no) group by 1"  # noqa: S608
            for name, rows in con.execute(query).fetchall():
                found[name][table] = rows
    return found


def weeks_in(found: dict[str, dict[str, int]], calm: dict[str, dict[str, int]]) -> set[str]:
    """The weeks found; fails where one is there in part, or a row is there twice."""
    weeks = {name.split("/")[0] for name in found}
    assert found == {name: rows for name, rows in calm.items() if name.split("/")[0] in weeks}
    return weeks


@pytest.fixture(scope="module")
def inbox(tmp_path_factory: pytest.TempPathFactory) -> tuple[seasons.Made, list[Path]]:
    """A season's feeds, and each troop's workbook of each week in the week's folder."""
    made = seasons.make(7, troops=2, weeks=4)
    folder = tmp_path_factory.mktemp("inbox")
    folders = [season_files.write_csvs(folder / "00 feeds", made.feeds)]
    for (troop, week), sheets in season_files.by_week(made.sheets).items():
        own = folder / str(week)
        own.mkdir(exist_ok=True)
        season_files.write_workbook(own / f"{troop}.xlsx", troop, week, sheets)
        folders.append(own)
    return made, sorted(set(folders))


def test_25_kills_at_random_moments(inbox: tuple[seasons.Made, list[Path]], tmp_path: Path) -> None:
    made, weeks = inbox
    for name in ("calm", "killed"):
        (tmp_path / name).mkdir()
    calm, killed = Trial(tmp_path / "calm", made.text), Trial(tmp_path / "killed", made.text)
    started = time.monotonic()
    for folder in weeks:
        calm.take_in(folder)
    usual = (time.monotonic() - started) / len(weeks)
    expected = rows_by_file(calm.book)
    dice = random.Random(25)  # noqa: S311 - moments for a test
    found: set[str] = set()
    died = 0
    with taker(killed.book) as program:
        for _attempt in range(5 * KILLS):
            child = program.start(next((folder for folder in weeks if folder.name not in found), weeks[-1]))
            time.sleep(dice.random() * usual)
            if is_there(child):
                os.kill(child, signal.SIGKILL)
                died += 1
                usual *= 1.1
            else:
                usual *= 0.7  # it was quicker than what was measured before
            wait_for(child)
            now_found = weeks_in(rows_by_file(killed.book), expected)
            assert now_found >= found
            found = now_found
            if died == KILLS:
                break
        for folder in weeks:
            wait_for(program.start(folder))
    assert died == KILLS
    assert weeks_in(rows_by_file(killed.book), expected) == {folder.name for folder in weeks}
    assert killed.figures(made.weeks) == calm.figures(made.weeks)
    assert not list((killed.book.folder / "published").glob(".making-*"))
