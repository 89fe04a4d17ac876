"""The guarded worker: a process of its own that opens files from anywhere, so that none of them can take the tool down.

Comes in, on its standard input: requests, a path and what the file was called. Goes out, on its standard output: what
each file holds (wire.py). Each file has a time limit, kept by the kernel, and all of them a memory limit; where a file
breaks one, the process ends and its owner (readers.py) starts another. It ends by itself when its owner does.
"""

import os
import pickle
import stat
from collections.abc import Callable
from functools import partial
from typing import BinaryIO

from pipelines.definitions.limits import BULK, LIMITS, Limits
from pipelines.intake.files import file_kinds
from pipelines.intake.files.archive import SAVE_AGAIN, Parts
from pipelines.intake.files.extent import over_limit
from pipelines.intake.files.serving import answer_requests
from pipelines.intake.files.wire import (
    HEAD,
    LINES,
    OUT_OF_MEMORY,
    Answer,
    Contents,
    Told,
    Unreadable,
    pack,
    unreadable,
)

BROKEN = Told("a file that cannot be understood", file_kinds.EXPECTED, SAVE_AGAIN)


def main(memory_bytes: str, seconds_per_file: str, limits: str) -> None:
    """Answers requests until its standard input ends; the limits as they stand on its command line."""

    def answered(request: bytes) -> tuple[Callable[[BinaryIO], None], bool]:
        path, name = pickle.loads(request)  # noqa: S301 - written by our owner
        contents, is_sound = answer(path, name, LIMITS[limits])
        return partial(_send, contents), is_sound

    answer_requests(int(memory_bytes), float(seconds_per_file), answered)


def answer(path: str, name: str, limits: Limits = BULK) -> tuple[Contents, bool]:
    """What a file holds, and whether this process is fit to read another."""
    try:
        return read_file(path, name, limits), True
    except Unreadable as error:
        return Contents([], [error.told]), True
    except MemoryError:
        os._exit(OUT_OF_MEMORY)  # at once: there may be no memory left to unwind in
    except Exception:  # whatever a library raises on a hostile file ends as a finding
        return Contents([], [BROKEN]), True
    except BaseException:  # a panic in Rust code is no Exception
        return Contents([], [BROKEN]), False


def read_file(path: str, name: str, limits: Limits = BULK) -> Contents:
    """The cells of one file; raises Unreadable."""
    with _opened(path) as file:
        before = os.fstat(file.fileno())
        head = file.read(file_kinds.HEAD_BYTES)
        kind = file_kinds.kind_of(head)
        contents, kind = _read_as(kind, file, before.st_size, limits)
        after = os.fstat(file.fileno())
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        found = "a file that changed while it was read"
        raise unreadable(found, "a file that is finished", "Wait until it is saved or copied, and send it again.")
    if over := over_limit(contents.sheets, limits):
        raise Unreadable(over)
    return contents._replace(told=[*contents.told, *file_kinds.mislabelled(kind, name)])


def _opened(path: str) -> BinaryIO:
    """The file, open to be read. Not waiting (O_NONBLOCK) matters for a pipe that nobody writes to."""
    expected, how = "a file that can be opened", "Look whether it is still there and may be read, and send it again."
    try:
        number = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except FileNotFoundError:
        raise unreadable("a file that is not there any more", expected, how) from None
    except (OSError, ValueError) as error:
        raise unreadable(f"a file that cannot be opened ({_reason(error)})", expected, how) from None
    if not stat.S_ISREG(os.fstat(number).st_mode):
        os.close(number)
        raise unreadable("something that is no file (a folder, a device, a pipe)", "a file", "Send the file itself.")
    return os.fdopen(number, "rb")


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or "its name cannot be used"


def _read_as(kind: str, file: BinaryIO, size: int, limits: Limits) -> tuple[Contents, str]:
    """The contents by the reader of its kind, and the kind; each reader is loaded when its first file comes."""
    if kind == "parquet":
        _refuse_large(size, limits.bytes_of(kind))
        _be_modest()
        from pipelines.intake.files.parquet import read_parquet  # noqa: PLC0415

        return read_parquet(file), kind
    _refuse_large(size, limits.bytes_of(kind))
    file.seek(0)
    payload = file.read(size)
    if kind in file_kinds.STATEMENTS:
        from pipelines.intake.files.statements import read_statement  # noqa: PLC0415

        return read_statement(payload, kind), kind
    if kind == "csv":
        _be_modest()
        from pipelines.intake.files.delimited import read_delimited  # noqa: PLC0415

        return read_delimited(payload), kind
    if kind == "xls":
        from pipelines.intake.files.xls import read_xls  # noqa: PLC0415

        return read_xls(payload, limits), kind
    return _read_zip(payload, limits)


def _read_zip(payload: bytes, limits: Limits) -> tuple[Contents, str]:
    parts = Parts(payload)
    kind = file_kinds.kind_in_zip(parts.names, parts.read_start("mimetype", 200))
    if kind == "ods":
        from pipelines.intake.files.ods import read_ods  # noqa: PLC0415

        return read_ods(parts, limits), kind
    if kind == "xlsx":
        from pipelines.intake.files.xlsx import read_xlsx  # noqa: PLC0415

        return read_xlsx(payload, parts, limits), kind
    if kind == "archive":
        raise unreadable("a zip of files", file_kinds.EXPECTED, "Unpack it, and send what is in it.")
    raise file_kinds.not_a_spreadsheet(kind)


def _refuse_large(size: int, most: int) -> None:
    if size > most:
        how = "Split it, by weeks for instance, and send the parts."
        raise unreadable(f"a file of {size / 1e6:,.0f} MB", f"at most {most / 1e6:,.0f} MB", how)


def _be_modest() -> None:
    """Arrow with two threads: each more would take address space, of which the memory limit leaves little."""
    import pyarrow as pa  # noqa: PLC0415

    pa.set_cpu_count(2)
    pa.set_io_thread_count(2)


def _send(contents: Contents, answers: BinaryIO) -> None:
    packed = pack(
        Answer(contents.sheets, contents.told, contents.has_names, contents.lines is not None, contents.saved)
    )
    if contents.table is None:
        answers.write(HEAD.pack(len(packed), 0) + packed)
    else:
        _send_table(answers, packed, contents)


def _send_table(answers: BinaryIO, packed: bytes, contents: Contents) -> None:
    """The table goes as it lies in memory: its size is measured by writing it to nowhere first."""
    import pyarrow as pa  # noqa: PLC0415

    table = contents.table
    assert table is not None  # noqa: S101 - asked before
    if contents.lines is not None:
        table = table.append_column(LINES, contents.lines)
    measure = pa.MockOutputStream()
    with pa.ipc.new_stream(measure, table.schema) as stream:
        stream.write_table(table)
    answers.write(HEAD.pack(len(packed), measure.size()) + packed)
    with pa.ipc.new_stream(pa.PythonFile(answers, mode="w"), table.schema) as stream:
        stream.write_table(table)
