"""Readings: one snapshot a run, the newest at the next, old ones let go, and a writer is never waited for."""

import gc
from collections.abc import Iterator
from pathlib import Path

import pytest
from trial import Trial

from dashboard.data import readings, snapshots
from pipelines.definitions.errors import NotABook
from pipelines.figures.viewer import COORDINATOR, Viewer

MORE = """
        troop  level
        {}   younger"""


@pytest.fixture
def shown(trial: Trial) -> Iterator[Trial]:
    """The small book, shown to the coordinator."""
    snapshots.open_book(trial.book, lambda: COORDINATOR)
    yield trial
    snapshots.open_book(None)


def troops() -> list[str]:
    return [row["troop"] for row in readings.now().rows("standing")]


def kept_snapshots(one: Trial) -> set[Path]:
    return set(one.book.published.glob("*.duckdb"))


def test_a_run_sees_one_snapshot_from_beginning_to_end(shown: Trial) -> None:
    with readings.run():
        before = troops()
        shown.send(troops=MORE.format("3000"))
        assert troops() == before == ["0031", "0417", "1282"]
    with readings.run():
        assert troops() == ["0031", "0417", "1282", "3000"]


def test_a_snapshot_is_kept_while_a_run_reads_it_and_let_go_afterwards(
    shown: Trial, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipelines.store.book.time.time", lambda: 4e9)  # as if every snapshot had lain there for long
    with readings.run():
        first = shown.book.current_snapshot()
        troops()
        shown.send(troops=MORE.format("3001"))
        assert first in kept_snapshots(shown)
    with readings.run():
        troops()
    gc.collect()
    shown.send(troops=MORE.format("3002"))
    assert first not in kept_snapshots(shown)


def test_readings_are_kept_for_each_viewer_by_itself(shown: Trial) -> None:
    snapshots.open_book(shown.book, lambda: Viewer("leader", frozenset({"0417"})))
    assert troops() == ["0417"]
    snapshots.open_book(shown.book, lambda: COORDINATOR)
    assert troops() == ["0031", "0417", "1282"]


def test_nothing_is_read_without_a_book() -> None:
    snapshots.open_book(None, lambda: COORDINATOR)
    with pytest.raises(NotABook):
        readings.now()


def test_readers_do_not_wait_for_a_writer(shown: Trial) -> None:
    with shown.book.writing():
        assert troops() == ["0031", "0417", "1282"]
