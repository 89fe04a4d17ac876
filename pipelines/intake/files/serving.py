"""The inside of a guarded process: requests heard and answered within limits that the kernel keeps.

Comes in, on the standard input: requests, each behind a head with its size. Goes out, on the standard output: answers.
Where one breaks a limit the process ends, and its owner (guarded.py) starts another. It ends by itself when its owner
does. This module imports little, so that a process starts in milliseconds.
"""

import contextlib
import os
import resource
import signal
from collections.abc import Callable
from typing import BinaryIO

from pipelines.intake.files.wire import BY_THE_CLOCK, HEAD, OUT_OF_MEMORY

Answered = Callable[[bytes], tuple[Callable[[BinaryIO], None], bool]]  # what writes the answer; whether to go on


def answer_requests(memory_bytes: int, seconds: float, answered: Answered) -> None:
    """Answers until the standard input ends. `seconds` of computing for each, by the clock three times that."""
    out = os.dup(1)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # a library that prints must not speak in the answers
    signal.pthread_sigmask(signal.SIG_SETMASK, [])  # an owner's thread may have blocked the alarm
    for alarm in (signal.SIGPROF, signal.SIGALRM):
        signal.signal(alarm, signal.SIG_DFL)
    _limit(memory_bytes)
    with os.fdopen(0, "rb") as requests, os.fdopen(out, "wb") as answers:
        while True:
            head = requests.read(HEAD.size)
            if len(head) < HEAD.size:
                return
            request = requests.read(HEAD.unpack(head)[0])
            _set_alarms(seconds)
            try:
                write, goes_on = answered(request)
                _set_alarms(0)  # the owner may take its time to hear it
                write(answers)
                answers.flush()
            except MemoryError:
                os._exit(OUT_OF_MEMORY)
            except BrokenPipeError:
                os._exit(0)  # nobody is left to hear it
            if not goes_on:
                return


def _set_alarms(seconds: float) -> None:
    """The kernel's: whatever a library is doing then, the process ends."""
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, seconds * BY_THE_CLOCK)


def _limit(memory_bytes: int) -> None:
    for limit, value in ((resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_CORE, 0)):
        with contextlib.suppress(ValueError, OSError):  # macOS refuses the first; the time limit is left
            resource.setrlimit(limit, (value, value))
