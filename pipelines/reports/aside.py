"""Papers that are made before they are asked for, kept on the disk: those of ten thousand troops fill no memory.

Comes in: bytes. Goes out: what gives them back. The file has no name, so nothing of it is left whatever happens.
"""

import os
from collections.abc import Callable
from functools import partial
from tempfile import TemporaryFile
from threading import Lock


class Aside:
    """A nameless file that several threads put papers into."""

    def __init__(self) -> None:
        self._file = TemporaryFile(buffering=0)  # noqa: SIM115 - it ends with the last who reads of it
        self._end = 0
        self._lock = Lock()

    def put(self, made: bytes) -> Callable[[], bytes]:
        """Keeps bytes; gives what reads them again."""
        with self._lock:
            start, self._end = self._end, self._end + len(made)
        left, at = memoryview(made), start
        while left:
            done = os.pwrite(self._file.fileno(), left, at)
            left, at = left[done:], at + done
        return partial(self._get, start, len(made))

    def __del__(self) -> None:
        self._file.close()

    def _get(self, start: int, size: int) -> bytes:
        got = os.pread(self._file.fileno(), size, start)
        while len(got) < size:
            got += os.pread(self._file.fileno(), size - len(got), start + len(got))
        return got
