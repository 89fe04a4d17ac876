"""Refusals that come again and again: the first is told at once, how many followed is told later, as one entry.

Comes in: refusals, as they happen. Goes out: what is to be written into the log, words about each. A flood of tries
thus fills no log, and costs no write.
"""

import threading
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipelines.definitions.limits import LOGGED_AGAIN_SECONDS, MOST_COUNTED

Told = tuple[str, str, str, str]  # who, what, about, address


@dataclass
class _Kind:
    """One kind of refusal from one address: since when it is counted, and how often it came after the first."""

    since: float
    more: int = 0


class Refusals:
    """The refusals of one book in this process."""

    def __init__(self) -> None:
        self._kinds: dict[tuple[str, str, str], _Kind] = {}  # by who, what and address
        self._lock = threading.Lock()

    def counted(self, who: str, what: str, about: str, address: str) -> list[Told]:
        """What is to be told now that one more has come."""
        at = time.time()
        with self._lock:
            told = [self._told(*key) for key, kind in self._kinds.items() if kind.since < at - LOGGED_AGAIN_SECONDS]
            self._kinds = {k: v for k, v in self._kinds.items() if v.since >= at - LOGGED_AGAIN_SECONDS}
            key = (who, what, address)
            if key not in self._kinds and len(self._kinds) >= MOST_COUNTED:
                key = ("many", what, "many addresses")
            if key in self._kinds:
                self._kinds[key].more += 1
            else:
                self._kinds[key] = _Kind(at)
                told.append((key[0], what, about, key[2]))
        return [one for one in told if one[0]]

    def all_counts(self) -> list[Told]:
        """What was counted and not told yet; counting goes on."""
        with self._lock:
            told = [self._told(*key) for key in self._kinds]
        return [one for one in told if one[0]]

    def _told(self, who: str, what: str, address: str) -> Told:
        kind = self._kinds[who, what, address]
        more, kind.more = kind.more, 0
        return (who, what, f"{more:,} times more", address) if more else ("", "", "", "")


@cache
def refusals_of(_book: Path) -> Refusals:
    """The refusals of a book, by where its accounts lie."""
    return Refusals()
