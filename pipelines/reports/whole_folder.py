"""A folder that appears whole or not at all: made aside, then put in place in one step.

Comes in: where the folder is to stand. Goes out: a folder to write into; its place taken once all is written. What a
person had put there of their own comes along.

Written aside, then exchanged in one step (renameat2 on Linux, renamex_np on macOS, elsewhere two renames); a broken-off
maker's folder is cleared by the next, told apart by a lock on it.
"""

import ctypes
import fcntl
import json
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import uuid4

from pipelines.definitions.errors import Stop

MARK = "manifest.json"  # what tells a folder of ours from somebody's own


@contextmanager
def whole_folder(place: Path) -> Iterator[Path]:
    """Yields a new folder beside `place`; when the block ends well it takes that place, what stood there is removed.

    Broken off at any moment, `place` is what it was before. Raises Stop where `place` holds something else than a
    folder made here.
    """
    place = place.absolute()
    _refuse_foreign(place)
    place.parent.mkdir(parents=True, exist_ok=True)
    _clear_left_over(place)
    aside = place.parent / f".making-{place.name}-{uuid4().hex}"
    aside.mkdir()
    hold = os.open(aside, os.O_RDONLY)
    try:
        fcntl.flock(hold, fcntl.LOCK_EX)
        yield aside
        _refuse_foreign(place)
        _take_over(place, aside)
        _put(aside, place)
    finally:
        shutil.rmtree(aside, ignore_errors=True)  # what was there before, or a half-made folder
        os.close(hold)


def _refuse_foreign(place: Path) -> None:
    if place.is_dir() and not any(place.iterdir()):
        return
    if place.exists() and not (place / MARK).is_file():
        raise Stop(f"{place} is not a roll-up and not empty. Name a new folder; nothing was changed.")


def _take_over(place: Path, aside: Path) -> None:
    """Copies what somebody put into a folder of ours beside what was made: it is not ours to remove."""
    if not (place / MARK).is_file():
        return
    made = {MARK}
    with suppress(ValueError, KeyError, AttributeError):  # a manifest that was altered tells nothing
        made |= json.loads((place / MARK).read_text(encoding="utf-8"))["files"].keys()
    for path in place.rglob("*"):
        there = aside / path.relative_to(place)
        if path.is_file() and path.relative_to(place).as_posix() not in made and not there.exists():
            there.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, there)


def _clear_left_over(place: Path) -> None:
    """Removes what a maker that was broken off left; one that is still at work holds its folder."""
    for path in place.parent.glob(f".making-{place.name}-*"):
        with suppress(OSError):
            hold = os.open(path, os.O_RDONLY)
            try:
                fcntl.flock(hold, fcntl.LOCK_EX | fcntl.LOCK_NB)
                shutil.rmtree(path, ignore_errors=True)
            finally:
                os.close(hold)


def _put(aside: Path, place: Path) -> None:
    if not place.exists():
        aside.rename(place)
    elif not _exchange(aside, place):
        before = aside.with_name(f"{aside.name}-before")
        place.rename(before)
        aside.rename(place)
        shutil.rmtree(before, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Swaps two folders in one step where the system can: Linux renameat2(2), macOS renamex_np(2)."""
    here, flag = -100, 2  # AT_FDCWD; RENAME_EXCHANGE of Linux and RENAME_SWAP of macOS are both 2
    system = ctypes.CDLL(None, use_errno=True)
    names = os.fsencode(one), os.fsencode(other)
    with suppress(AttributeError):
        if sys.platform == "darwin":
            return bool(system.renamex_np(*names, flag) == 0)
        return bool(system.renameat2(here, names[0], here, names[1], flag) == 0)
    return False
