"""Any file → its cells as they are, read in a guarded worker.

Comes in: paths, and what each file was called. Goes out: a Reading of each, in the order asked. Whatever a file does to
the worker (memory, time, a crash) ends as a Reading with one Finding; the worker is replaced and reading goes on.
"""

import os
import pickle
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

import pyarrow as pa

from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import BULK, Limits
from pipelines.definitions.records import CellFault, Finding, Reading, Sheet
from pipelines.intake.files.guarded import GRACE_SECONDS, Gone, Process
from pipelines.intake.files.wire import BY_THE_CLOCK, LINES, OUT_OF_MEMORY, Answer, Told, unpack

AHEAD = 16  # files asked for before the first is answered
AHEAD_BYTES = 4096  # of such requests: they wait in a pipe, which holds at least this on any system
START = "import sys; sys.path[:] = sys.argv[4:]; from pipelines.intake.files.worker import main; main(*sys.argv[1:4])"

# What it takes to make sense of an answer, where a file took over the worker and made one up.
NO_ANSWER = (pickle.UnpicklingError, pa.ArrowException, OverflowError, MemoryError, ValueError, TypeError, EOFError)


class _Asked(NamedTuple):
    number: int
    path: Path
    name: str
    tries: int


class _Worker(Process):
    """A process that reads files (worker.py)."""

    def __init__(self, memory_bytes: int, seconds_per_file: float, limits: Limits) -> None:
        words = [str(memory_bytes), str(seconds_per_file), limits.name]
        super().__init__(START, words, seconds_per_file * BY_THE_CLOCK + GRACE_SECONDS)
        self.answered = 0

    def ask_for(self, asked: _Asked) -> None:
        """Sends a request."""
        self.ask(pickle.dumps((str(asked.path), asked.name), protocol=5))

    def hear(self) -> tuple[Answer, pa.Table | None]:
        """The next answer; raises Gone."""
        packed_bytes, table_bytes = self.heard_head()
        table = None
        try:
            packed = bytearray(packed_bytes)
            self.fill(memoryview(packed))
            if table_bytes:
                stream = pa.allocate_buffer(table_bytes)
                self.fill(memoryview(stream).cast("B"))
                table = pa.ipc.open_stream(stream).read_all()
                table.validate()
            answer = unpack(packed)
        except NO_ANSWER:
            raise Gone(self.end()) from None
        self.answered += 1
        return answer, table


class Reader:
    """Reads files in one guarded worker, which is started when first needed and replaced when it dies or hangs.

    `limits`: what a file may be. `memory_bytes` and `seconds_per_file` in place of theirs: address space (where the
    system has such a limit; macOS has none), and computing time, by the clock three times that.
    May be used from several threads. Use it as a context manager, or call close().
    """

    def __init__(
        self, limits: Limits = BULK, *, memory_bytes: int | None = None, seconds_per_file: float | None = None
    ) -> None:
        self._limits = limits
        self._memory_bytes, self._seconds = memory_bytes or limits.memory_bytes, seconds_per_file or limits.seconds
        self._worker: _Worker | None = None
        self._lock = threading.RLock()
        self._asked: deque[_Asked] = deque()
        self._heard: dict[int, Reading] = {}
        self._unwanted: set[int] = set()
        self._count = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Ends the worker; a Reader that is used again starts another."""
        with self._lock:
            if self._worker:
                self._worker.end()
            self._worker = None
            self._asked.clear()

    def read(self, path: Path, name: str) -> Reading:
        """One file's cells, or the finding that says why there are none. `name` is what the file was called."""
        return self._await(self._ask(path, name))

    def read_all(self, files: Iterable[tuple[Path, str]]) -> Iterator[Reading]:
        """Many files, (path, name) each, in the order given; the worker reads ahead while the caller works."""
        waiting: deque[tuple[int, int]] = deque()
        to_come = iter(files)
        following = next(to_come, None)
        try:
            while following or waiting:
                while following and self._has_room(waiting, following):
                    waiting.append((self._ask(*following), _request_bytes(*following)))
                    following = next(to_come, None)
                number, _ = waiting.popleft()
                yield self._await(number)
        finally:
            self._forget(number for number, _ in waiting)

    def _forget(self, numbers: Iterable[int]) -> None:
        with self._lock:
            for number in numbers:
                if self._heard.pop(number, None) is None:
                    self._unwanted.add(number)

    @staticmethod
    def _has_room(waiting: deque[tuple[int, int]], following: tuple[Path, str]) -> bool:
        if not waiting:
            return True
        taken = sum(size for _, size in waiting) + _request_bytes(*following)
        return len(waiting) < AHEAD and taken <= AHEAD_BYTES

    def _ask(self, path: Path, name: str) -> int:
        with self._lock:
            self._count += 1
            asked = _Asked(self._count, path, name, tries=0)
            self._asked.append(asked)
            if self._worker:
                self._worker.ask_for(asked)
            return asked.number

    def _await(self, number: int) -> Reading:
        with self._lock:
            while number not in self._heard:
                self._hear_next()
            return self._heard.pop(number)

    def _hear_next(self) -> None:
        """Hears the answer to the oldest request, or parts with the worker that owes it."""
        worker = self._worker or self._start()
        try:
            reading = reading_of(*worker.hear())
        except Gone as gone:
            self._worker = None
            first = self._asked.popleft()
            if gone.status is not None and worker.answered and not first.tries:
                # Files before it may have used the memory up: in a fresh worker it may do no harm.
                self._asked.appendleft(first._replace(tries=1))
            else:
                self._keep(first.number, Reading(findings=[self._finding(gone.status)]))
        except BaseException:
            self.close()  # broken off in the middle of an answer: what follows it could not be told apart
            raise
        else:
            self._keep(self._asked.popleft().number, reading)

    def _keep(self, number: int, reading: Reading) -> None:
        if number in self._unwanted:
            self._unwanted.discard(number)
        else:
            self._heard[number] = reading

    def _start(self) -> _Worker:
        """A fresh worker, asked for all that is still owed."""
        if not self._asked:
            raise Stop("The reading of files was broken off: start it again.")
        self._worker = _Worker(self._memory_bytes, self._seconds, self._limits)
        for asked in self._asked:
            self._worker.ask_for(asked)
        return self._worker

    def _finding(self, status: int | None) -> Finding:
        how = "Delete what stands far below or beside the table, or save the sheet as CSV, and send that."
        if status in (None, -signal.SIGPROF, -signal.SIGALRM):
            found = f"a file that could not be read within {self._seconds:g} seconds"
            return Finding("", "", found, "a workbook or table of ordinary size", how)
        if status in (OUT_OF_MEMORY, -signal.SIGABRT):
            found = f"a file that needs more memory to be read than the {self._memory_bytes / 2**30:.2g} GiB allowed"
            return Finding("", "", found, "a workbook or table of ordinary size", how)
        how = "Open it in a spreadsheet program, save it under a new name, and send that."
        return Finding("", "", "a file that stopped the reader", "a workbook or table that is whole", how)


def _request_bytes(path: Path, name: str) -> int:
    return len(os.fsencode(path)) + len(name.encode("utf-8", "replace")) + 64


def reading_of(answer: Answer, table: pa.Table | None) -> Reading:
    """A worker's answer in the records that stages share."""
    sheets = []
    for name, rows, faults, is_hidden in answer.sheets:
        for row, column, shown, why in faults:
            rows[row][column] = CellFault(shown, why)
        sheets.append(Sheet(name, rows=rows, is_hidden=is_hidden))
    if table is not None:
        lines = table.column(LINES).combine_chunks() if answer.has_lines else None
        table = table.drop_columns([LINES]) if answer.has_lines else table
        sheets.append(Sheet("", table=table, has_names=answer.has_names, row_numbers=lines))
    return Reading(sheets, [finding_of(told) for told in answer.told], _moment(answer.saved))


def _moment(saved: str) -> datetime | None:
    try:
        return datetime.fromisoformat(saved)
    except ValueError:
        return None


def finding_of(told: Told) -> Finding:
    """What a worker says, as stages share it."""
    return Finding(told.sheet, told.cell, told.found, told.expected, told.how, told.is_note)
