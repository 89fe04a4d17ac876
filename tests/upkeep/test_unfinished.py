"""What was broken off is finished by whatever command comes next: the smallest case of each."""

from pathlib import Path

import pytest
from trial import W1, Trial

from pipelines.commands import open_book
from pipelines.figures.viewer import COORDINATOR
from pipelines.follow_up import decisions
from pipelines.follow_up.decisions import Entry, Key, write
from pipelines.workflow import looking_back


def broken_off(*_given: object) -> None:
    raise KeyboardInterrupt


def test_a_promise_that_was_kept_and_not_published_shows(trial: Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    """It was certain before its writer was broken off, and cannot be made a second time."""
    entry = Entry(Key("no_contact", "0031"), "note", "Asked the leader")
    folder = trial.book.folder
    with monkeypatch.context() as patched:
        patched.setattr(decisions, "show", broken_off)
        with pytest.raises(KeyboardInterrupt):
            write(trial.book, "Ann", W1, [entry])
    with looking_back.figures(open_book(folder), COORDINATOR) as figures:
        assert [row["words"] for row in figures.follow_ups() if row["written_by"] == "Ann"] == ["Asked the leader"]
    assert write(trial.book, "Ann", W1, [entry]) == 0
    assert not trial.book.was_broken_off()


def test_what_a_copying_that_was_broken_off_left_is_removed(trial: Trial, tmp_path: Path) -> None:
    """The half-made copy beside the book, and the accounts that were set aside for it."""
    folder = trial.book.folder
    half = tmp_path / ".copy.tar.making"
    half.write_bytes(b"half")
    (folder / ".copying").mkdir()
    (folder / ".copying" / "where").write_text(str(half), encoding="utf-8")
    (folder / ".copying" / "access.sqlite").write_bytes(b"accounts")
    half_landed = folder / "landed" / "ab" / ".abcd.77"
    half_landed.parent.mkdir(exist_ok=True)
    half_landed.write_bytes(b"half")
    (folder / ".lock-holder").write_text("somebody", encoding="utf-8")
    open_book(folder)
    assert not half.exists()
    assert not half_landed.exists()
    assert not (folder / ".copying").exists()
    assert not (folder / ".lock-holder").exists()
