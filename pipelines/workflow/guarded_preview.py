"""A week looked over in a process that can be ended, whatever the file in it does: reading, judging and all.

Comes in: an account's name and what preview takes. Goes out: a Preview; of a file that took too long or too much, one
with the finding that says so. The looking over of one account waits for each other, so that nobody's many files hold
up another's; of all accounts as many run at once as there are processes. They are started when first needed, kept, and
give way to the rest of the machine.
"""

import datetime
import decimal
import io
import os
import pickle
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import is_dataclass
from pathlib import Path
from typing import BinaryIO

from pipelines.accounts.turns import Full, Turns
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import (
    LOOK_OVER_MEMORY,
    LOOK_OVER_REFUSED_AFTER,
    LOOK_OVER_SECONDS,
    LOOK_OVERS,
    LOOK_OVERS_AT_ONCE,
    TROOP,
)
from pipelines.definitions.records import Finding, Sheet
from pipelines.definitions.season import Season
from pipelines.intake.files.guarded import GRACE_SECONDS, Gone, Process
from pipelines.intake.files.serving import answer_requests
from pipelines.intake.files.wire import BY_THE_CLOCK, HEAD
from pipelines.workflow.preview import Preview, preview
from pipelines.workflow.slip_questions import Landed

START = "import sys; sys.path[:] = sys.argv[2:]; from pipelines.workflow.guarded_preview import main; main(sys.argv[1])"
GIVES_WAY = 5  # niceness: a screen that somebody waits for goes first
# Our own records, out of which a Preview is made, and plain values; nothing else is unpacked.
RECORDS = ("pipelines.definitions.records", "pipelines.workflow.preview", "pipelines.messages.finding_lines")
VALUES: dict[tuple[str, str], object] = {
    ("datetime", name): getattr(datetime, name) for name in ("date", "datetime", "time")
} | {("decimal", "Decimal"): decimal.Decimal}
SMALLER = "Delete what does not belong to the week, or fill in this week's form, and look it over again."
TOO_LONG = Finding("", "", "a workbook that takes too long to look over", "a troop's week", SMALLER)
TOO_MUCH = Finding("", "", "a workbook that stopped the looking over", "a troop's week", SMALLER)


class LookOvers:
    """The looking over of one dashboard."""

    def __init__(self, at_once: int = LOOK_OVERS_AT_ONCE, seconds: float = LOOK_OVER_SECONDS) -> None:
        self._seconds = seconds
        self._room = threading.Semaphore(at_once)
        self._lock = threading.Lock()
        self._turns = Turns(LOOK_OVERS)
        self._idle: list[Process] = []

    def look_over(
        self,
        account: str,
        season: Season,
        troops: Sequence[str],
        given: Path | list[Sheet],
        name: str,
        beside: Path | None,
        landed: Sequence[Landed] = (),
    ) -> Preview:
        """As preview; raises Stop where the account has too many waiting already, or the book says so."""
        try:
            with self._turns.of(account), self._room:
                return self._asked(pickle.dumps((season, list(troops), given, name, beside, landed), protocol=5))
        except Full:
            time.sleep(LOOK_OVER_REFUSED_AFTER)
            raise Stop(
                "You are having several workbooks looked over already. Wait until one of them is done."
            ) from None

    def close(self) -> None:
        """Ends the processes that wait for work."""
        with self._lock:
            idle, self._idle = self._idle, []
        for process in idle:
            process.end()

    def _asked(self, request: bytes) -> Preview:
        """The answer of a process that waited, or of a fresh one where that one has died since."""
        with self._lock:
            process = self._idle.pop() if self._idle else None
        was_idle = process is not None
        process = process or self._started()
        try:
            answer = self._heard(process, request)
        except Gone as gone:
            is_over_time = gone.status in (None, -signal.SIGPROF, -signal.SIGALRM)
            if was_idle and not is_over_time:
                return self._asked(request)  # what it did before may have used its memory up
            return Preview("unknown", findings=[TOO_LONG if is_over_time else TOO_MUCH])
        except BaseException:
            process.end()
            raise
        with self._lock:
            self._idle.append(process)
        if isinstance(answer, str):
            raise Stop(answer)
        return answer

    def _started(self) -> Process:
        return Process(START, [str(self._seconds)], self._seconds * BY_THE_CLOCK + GRACE_SECONDS)

    @staticmethod
    def _heard(process: Process, request: bytes) -> Preview | str:
        process.ask(request)
        size, _ = process.heard_head()
        packed = bytearray(size)
        process.fill(memoryview(packed))
        try:
            answer = _OwnUnpickler(io.BytesIO(packed)).load()
        except (pickle.UnpicklingError, ValueError, TypeError, AttributeError, EOFError):
            raise Gone(process.end()) from None
        return answer if isinstance(answer, Preview) else str(answer)


class _OwnUnpickler(pickle.Unpickler):
    """Takes our own records and plain values, and nothing else."""

    def find_class(self, module: str, name: str) -> object:
        if (module, name) in VALUES:
            return VALUES[module, name]
        found = getattr(sys.modules.get(module), name, None) if module in RECORDS else None
        if isinstance(found, type) and is_dataclass(found) and found.__module__ == module:
            return found
        raise pickle.UnpicklingError(f"{module}.{name} is none of our records")


def main(seconds: str) -> None:
    """Looks over what it is asked to until its standard input ends."""
    os.nice(GIVES_WAY)
    answer_requests(LOOK_OVER_MEMORY, float(seconds), _answered)


def _answered(request: bytes) -> tuple[Callable[[BinaryIO], None], bool]:
    season, troops, given, name, beside, landed = pickle.loads(request)  # noqa: S301 - written by our owner
    answer: Preview | str
    try:
        answer = preview(season, troops, given, name, beside, landed=landed, limits=TROOP)
        answer.sheets = [sheet for sheet in answer.sheets if sheet.table is None]  # a week has none
    except Stop as stop:
        answer = str(stop)
    except MemoryError:
        raise
    except Exception:  # whatever goes wrong in it ends as a finding
        answer = Preview("unknown", findings=[TOO_MUCH])
    packed = pickle.dumps(answer, protocol=5)

    def write(answers: BinaryIO) -> None:
        answers.write(HEAD.pack(len(packed), 0) + packed)

    return write, True
