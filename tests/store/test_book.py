"""The book: one writer, who is named to those that wait; snapshots that are swapped while readers read."""

import fcntl
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest
from trial import SEASON, W1, Trial

from pipelines.definitions.errors import BrokenSeason, Busy, NotABook
from pipelines.figures.viewer import COORDINATOR
from pipelines.store.book import Book, new_book
from pipelines.workflow import looking_back, take_in

WRITER = """
import sys
from pathlib import Path
from pipelines.store.book import Book
with Book(Path(sys.argv[1])).writing():
    print("writing", flush=True)
    sys.stdin.read()
"""
SUPPLY = "document troop item date packages kind\n"


@contextmanager
def another_writer(book: Book) -> Iterator[int]:
    """A program that writes in the book until the block ends; gives its process number."""
    command = [sys.executable, "-c", WRITER, str(book.folder)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        assert process.stdout.readline() == "writing\n"
        yield process.pid
        process.communicate()


def old(path: Path) -> None:
    """Makes a snapshot look as if it had been made a while ago."""
    then = time.time() - 60
    os.utime(path, (then, then))


def test_who_waits_is_told_who_writes(trial: Trial) -> None:
    """And with what program, since when; after a while it is told to try again."""
    told: list[str] = []
    with another_writer(trial.book) as process, pytest.raises(Busy) as busy, trial.book.writing(told.append, wait=0.2):
        pass
    assert len(told) == 1
    for said in (told[0], str(busy.value)):
        assert f"(process {process}), since " in said
    assert "Try again" in str(busy.value)


def test_a_writer_waits_and_goes_on(trial: Trial) -> None:
    """The second comes in when the first is done."""
    told: list[str] = []
    with another_writer(trial.book):
        waiting = threading.Thread(target=lambda: take_in.ingest(trial.book, [], "tests", on_wait=told.append))
        waiting.start()
        time.sleep(0.3)
        assert waiting.is_alive()
    waiting.join(20)
    assert not waiting.is_alive()
    assert len(told) == 1


def test_readers_do_not_wait_for_the_writer(trial: Trial) -> None:
    with another_writer(trial.book), looking_back.figures(trial.book, COORDINATOR, W1) as figures:
        assert figures.rows("standing", W1, "0417")[0]["available"] == 0


def test_a_reader_keeps_what_it_opened_while_newer_weeks_come(trial: Trial) -> None:
    """Its snapshot stays as long as it is open; those who come later read the newer one."""
    with trial.book.reading() as con:
        first = trial.book.current_snapshot()
        for number in range(2):
            old(trial.book.current_snapshot())
            trial.send(supply=SUPPLY + f"D{number} 0417 GLA 2027-02-10 12 depot")
        assert con.execute("select count(*) from landed.supply").fetchall() == [(0,)]
        assert first.is_file()
        assert trial.standing("0417", W1)["available"] == "24"
    left = {path.name for path in trial.book.published.glob("*.duckdb")}
    assert first.name in left
    old(first)
    trial.send(supply=SUPPLY + "D9 0417 GLA 2027-02-10 12 depot")
    assert not first.exists()
    assert not first.with_suffix(".reading").exists()


def test_a_reader_that_comes_between_holds_what_it_opens(trial: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    """The pointer is read, the snapshot is cleared, and only then the reader takes hold: of the newer one."""
    now_there = trial.book.current_snapshot()
    named = [trial.book.published / "20270101T000000000000.duckdb"]  # cleared a moment ago
    monkeypatch.setattr(Book, "current_snapshot", lambda _self: named.pop() if named else now_there)
    with trial.book.holding() as snapshot:
        assert snapshot == now_there
        with now_there.with_suffix(".reading").open("r+") as hold, pytest.raises(BlockingIOError):
            fcntl.flock(hold, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_old_snapshots_are_cleared(trial: Trial) -> None:
    """All but the current one and what was made a moment ago; what a writer broke off goes too."""
    (trial.book.published / ".making-x.duckdb").write_bytes(b"broken off")
    for number in range(2):
        old(trial.book.current_snapshot())
        trial.send(supply=SUPPLY + f"D{number} 0417 GLA 2027-02-10 12 depot")
    assert list(trial.book.published.glob("*.duckdb")) == [trial.book.current_snapshot()]
    assert not list(trial.book.published.glob(".making*"))


def test_readers_read_whole_states_while_a_writer_is_at_work(trial: Trial) -> None:
    """Each file brings a document of 12 packages: a reader never sees the one without the other."""
    seen: list[tuple[int, int]] = []
    failed: list[Exception] = []
    done = threading.Event()

    def read() -> None:
        while not done.is_set():
            try:
                with looking_back.figures(trial.book, COORDINATOR, W1) as figures:
                    available = sum(row["available"] for row in figures.rows("standing", W1))
                    documents = len({row["document"] for row in figures.facts("supply")})
                seen.append((available, documents))
            except Exception as error:
                failed.append(error)
                return

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    for number in range(3):
        lines = [f"D{number} {troop} GLA 2027-02-10 4 depot" for troop in ("0417", "0031", "1282")]
        trial.send(supply=SUPPLY + "\n".join(lines))
    done.set()
    for reader in readers:
        reader.join(20)
    assert not failed
    assert {(available // 12, available % 12) for available, _documents in seen} <= {(n, 0) for n in range(5)}
    assert all(available == 12 * documents for available, documents in seen)
    assert len(set(seen)) > 1


def test_a_clock_set_back_does_not_reorder_what_landed(trial: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    """The newer word holds, though the clock says that it came first."""
    trial.send(supply=SUPPLY + "D1 0417 GLA 2027-02-10 12 depot")
    monkeypatch.setattr(take_in, "now", lambda: datetime(2020, 1, 1))  # noqa: DTZ001 - UTC as the warehouse keeps it
    trial.send(supply=SUPPLY + "D1 0417 GLA 2027-02-10 7 depot")
    monkeypatch.undo()
    assert trial.standing("0417", W1)["available"] == "7"
    with trial.book.reading() as con:
        [(times,)] = con.execute("select list(distinct landed_at order by landed_at) from landed.files").fetchall()
    assert all(later - sooner >= timedelta(microseconds=1) for sooner, later in pairwise(times))
    assert times[0].year > 2020


def test_a_changed_season_is_landed_and_its_figures_are_kept(trial: Trial) -> None:
    """A newer rate holds from now on; the book as known before has the older one."""
    trial.send(supply=SUPPLY + "D1 0417 GLA 2027-02-10 10 depot")
    with trial.book.reading() as con:
        [(before,)] = con.execute("select max(landed_at) from landed.files").fetchall()
    trial.book.season_file.write_text(SEASON.replace('"0.70"', '"0.50"'), encoding="utf-8")
    assert take_in.refresh(trial.book, "tests")
    assert Decimal(trial.standing("0417", W1)["proceeds"]) == 5
    assert Decimal(trial.table("standing", W1, before)["0417", str(W1)]["proceeds"]) == 7


def test_an_item_that_rows_name_cannot_go(trial: Trial) -> None:
    """The season says so by its key, and what is published holds."""
    trial.send(supply=SUPPLY + "D1 0417 HRB 2027-02-10 10 depot")
    head, rest = SEASON.split('[[items]]\ncode = "HRB"')
    trial.book.season_file.write_text(head + rest.split("\n\n", 1)[1], encoding="utf-8")
    with pytest.raises(BrokenSeason, match="items: HRB cannot go"):
        trial.send(supply=SUPPLY + "D2 0417 GLA 2027-02-10 10 depot")
    assert trial.standing("0417", W1)["available"] == "10"


def test_what_is_no_book(tmp_path: Path) -> None:
    """A folder without a season, a new book in a folder that is not empty, a book without figures."""
    with pytest.raises(NotABook, match=r"no season\.toml"):
        Book(tmp_path).season()
    (tmp_path / "letter.txt").write_text("x", encoding="utf-8")
    with pytest.raises(NotABook, match="not empty"):
        new_book(tmp_path, SEASON)
    book = new_book(tmp_path / "book", SEASON)
    with pytest.raises(NotABook, match="Nothing is published"), book.reading():
        pass


@pytest.mark.parametrize(
    ("stood", "stands", "said"),
    [
        ('week_ends_on = "sunday"', 'week_ends_on = "saturday"', "season.week_ends_on: weeks already taken in"),
        ('code = "HRB"', 'stocked = false\ncode = "HRB"', "items: HRB must stay stocked"),
    ],
)
def test_the_season_may_not_contradict_rows_already_taken_in(trial: Trial, stood: str, stands: str, said: str) -> None:
    trial.send(
        supply=SUPPLY + "D1 0417 HRB 2027-02-10 10 depot",
        stock="troop week_ending item on_hand\n0417 2027-02-14 HRB 10",
    )
    text = trial.book.season_file.read_text(encoding="utf-8")
    if stood not in text:
        text = text.replace("[season]\n", f"[season]\n{stood}\n")
    trial.book.season_file.write_text(text.replace(stood, stands), encoding="utf-8")
    with pytest.raises(BrokenSeason, match=said):
        take_in.refresh(trial.book, "tests")
