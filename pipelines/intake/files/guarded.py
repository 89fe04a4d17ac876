"""A process of our own that works on what came from anywhere, and can be ended whatever it does.

Comes in: what to start, requests as bytes. Goes out: answers, each behind a head with its sizes (wire.HEAD), read no
longer than a time limit allows; or that the process is gone, and how. Both what reads files and what looks a week over
before it is sent are such processes.
"""

import os
import select
import subprocess
import sys
import time
from collections.abc import Sequence
from typing import IO

from pipelines.definitions.errors import Stop
from pipelines.intake.files.wire import HEAD

GRACE_SECONDS = 1.0  # beyond the process's own alarm, for one that cannot even be woken by it
# Threads that libraries start at import take address space for each processor; none of these processes needs them.
MODEST = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2"}


class Gone(Exception):
    """It did not answer: it died (its exit status, negative for a signal) or went over its time (None)."""

    def __init__(self, status: int | None) -> None:
        super().__init__(status)
        self.status = status


class Process:
    """One process, asked through its standard input and heard through its standard output."""

    def __init__(self, start: str, words: Sequence[str], seconds: float) -> None:
        """`start`: what to run, which finds `words` and then sys.path in sys.argv; `seconds` to wait for a piece."""
        try:
            # A new program, never a fork of this one, which may be a server with threads and open books. A session of
            # its own: what is typed at the terminal to stop us must not kill it in the middle of a file.
            self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and words
                [sys.executable, "-I", "-c", start, *words, *sys.path],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
                bufsize=0,
                env=os.environ | MODEST,
            )
        except OSError as error:
            raise Stop(f"The reader of files cannot be started ({error.strerror}): close other programs.") from None
        self._seconds = seconds

    @property
    def pid(self) -> int:
        return self._process.pid

    def ask(self, packed: bytes) -> None:
        """Sends a request; one that a dead process cannot take is found out when its answer is waited for."""
        pipe = _pipe(self._process.stdin)
        left = memoryview(HEAD.pack(len(packed), 0) + packed)
        try:
            while left:
                left = left[pipe.write(left) :]
        except OSError:
            return

    def heard_head(self) -> tuple[int, int]:
        """The sizes of the next answer's two parts; raises Gone."""
        head = bytearray(HEAD.size)
        self.fill(memoryview(head))
        first, second = HEAD.unpack(head)
        return int(first), int(second)

    def fill(self, room: memoryview) -> None:
        """Fills `room` from the answers; time runs anew with each piece that arrives. Raises Gone."""
        pipe = _pipe(self._process.stdout)
        while room:
            until = time.monotonic() + self._seconds
            if not _is_ready(pipe.fileno(), until):
                self.end()
                raise Gone(None)
            count = os.readv(pipe.fileno(), [room])
            if not count:
                raise Gone(self.end())
            room = room[count:]

    def end(self) -> int:
        """Ends the process; returns the status with which it had ended, or was ended now."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe:
                pipe.close()
        try:
            # One that died needs a moment to be known as dead; one that waits for requests ends at their end.
            return self._process.wait(0.5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return self._process.wait()


def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
    assert pipe is not None  # noqa: S101 - both were asked for
    return pipe


def _is_ready(descriptor: int, until: float) -> bool:
    poll = select.poll()  # select() fails in a server that has more than 1,024 files open
    poll.register(descriptor, select.POLLIN)
    return bool(poll.poll(max(0.0, until - time.monotonic()) * 1000))
