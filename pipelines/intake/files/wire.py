"""How the guarded worker and its owner talk: plain values in frames, over two pipes.

Comes in: what a reader made of one file (Contents). Goes out: bytes, and on the other side the same values again.
Nothing but built-in values and days crosses, and the owner refuses to unpickle anything else: a file that took over
the worker could still run nothing in its owner. This module imports little, so that a worker starts in milliseconds.
"""

import datetime
import io
import pickle
import struct
from typing import TYPE_CHECKING, NamedTuple, cast

if TYPE_CHECKING:  # pyarrow costs 80 ms to import; a worker that reads workbooks never needs it
    import pyarrow as pa

HEAD = struct.Struct("<QQ")  # bytes of the pickle, bytes of the Arrow stream behind it
LINES = "line"  # of a table that is sent: its last column, where records do not start on lines 1, 2, 3, ...
BY_THE_CLOCK = 3  # times the seconds of computing that a file may take: a busy machine must not refuse a good file
OUT_OF_MEMORY = 71  # the worker's exit status when a file asked for more memory than it may have


class Told(NamedTuple):
    """A Finding (records.py), as the worker says it."""

    found: str
    expected: str
    how: str
    sheet: str = ""
    cell: str = ""
    is_note: bool = False


class Cells(NamedTuple):
    """One sheet of a workbook; a fault is (row, column, what is shown, why), both counted from 0."""

    name: str
    rows: list[list[object]]
    faults: list[tuple[int, int, str, str]]
    is_hidden: bool = False


class Contents(NamedTuple):
    """What a file holds: the sheets of a workbook or one table, and what is to be told of it."""

    sheets: list[Cells]
    told: list[Told]
    table: "pa.Table | None" = None
    has_names: bool = False
    lines: "pa.Array | None" = None
    saved: str = ""  # when the document was saved last, in ISO 8601, where it says so


class Answer(NamedTuple):
    """Contents as they cross: the table itself follows as an Arrow stream."""

    sheets: list[Cells]
    told: list[Told]
    has_names: bool
    has_lines: bool
    saved: str = ""


class Unreadable(Exception):
    """A file of which no cell can be used; carries what a person is told."""

    def __init__(self, told: Told) -> None:
        super().__init__(told.found)
        self.told = told


def unreadable(found: str, expected: str, how: str, *, sheet: str = "", cell: str = "") -> Unreadable:
    """The error that ends a reading."""
    return Unreadable(Told(found, expected, how, sheet, cell))


def note(found: str, expected: str, how: str, *, sheet: str = "", cell: str = "") -> Told:
    """What is told and holds nothing."""
    return Told(found, expected, how, sheet, cell, is_note=True)


def column_letters(column: int) -> str:
    """A column as a spreadsheet names it: 0 → A, 26 → AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def pack(answer: Answer) -> bytes:
    """An answer as bytes."""
    sheets = [tuple(sheet) for sheet in answer.sheets]
    return pickle.dumps((sheets, [tuple(told) for told in answer.told], *answer[2:]), protocol=5)


class _PlainUnpickler(pickle.Unpickler):
    """Takes built-in values, days and times, and nothing else."""

    def find_class(self, module: str, name: str) -> object:
        if module == "datetime" and name in ("date", "datetime", "time"):
            return getattr(datetime, name)
        raise pickle.UnpicklingError(f"{module}.{name} is no plain value")


def unpack(packed: bytes | bytearray) -> Answer:
    """The answer in these bytes; raises pickle.UnpicklingError where they hold more than plain values."""
    sheets, told, has_names, has_lines, saved = cast(
        "tuple[list[tuple[str, list[list[object]], list[tuple[int, int, str, str]], bool]],"
        " list[tuple[str, str, str, str, str, bool]], bool, bool, str]",
        _PlainUnpickler(io.BytesIO(packed)).load(),
    )
    return Answer([Cells(*sheet) for sheet in sheets], [Told(*one) for one in told], has_names, has_lines, saved)
