"""Turns of threads: so much of a kind at once for each account, the rest waits, and too many are turned away.

Comes in: whose turn it is. Goes out: a turn, or Full. Nobody's many pages or files hold up another's.
"""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from pipelines.definitions.limits import Share


class Full(Exception):
    """So many are under way, and wait, that no more is taken on."""


class Turns:
    """The turns of one kind of work."""

    def __init__(self, share: Share) -> None:
        self._share = share
        self._lock = threading.Lock()
        self._of: dict[str, tuple[threading.Semaphore, list[int]]] = {}  # account → its room, how many are there

    def here(self, account: str) -> int:
        """How many of an account are under way or wait."""
        with self._lock:
            return self._of[account][1][0] if account in self._of else 0

    @contextmanager
    def of(self, account: str) -> Iterator[None]:
        """A turn of an account, once it is there; raises Full."""
        with self._lock:
            room, here = self._of.setdefault(account, (threading.Semaphore(self._share.at_once), [0]))
            if here[0] >= self._share.at_once + self._share.waiting:
                raise Full
            here[0] += 1
        try:
            with room:
                yield
        finally:
            with self._lock:
                here[0] -= 1
                if not here[0]:
                    self._of.pop(account, None)
