"""The small records that stages hand to each other in Python; everything larger meets in tables.

Comes in: nothing. Goes out: what a file holds (Reading, Sheet, CellFault) and what is wrong in it (Finding).
"""

from dataclasses import dataclass, field
from datetime import datetime

import pyarrow as pa

type_of_cell = (
    "None, str, int, float, bool, datetime.date, datetime.datetime, datetime.time, decimal.Decimal or CellFault"
)


@dataclass(frozen=True, slots=True)
class CellFault:
    """A cell that stores no usable value: an error such as `#REF!`, or a formula whose value was never stored."""

    shown: str  # what a person sees in the cell or types to find it: "#REF!", "=B2*3"
    why: str  # "error" or "no value"

    def __str__(self) -> str:
        return self.shown


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of cells as they are; a CSV or Parquet file is one sheet named "".

    Small sheets (workbooks) come as `rows`: rows[0] is the sheet's row 1, rows[r][c] the cell in row r + 1 and
    column c + 1: None, text, a number, a bool, a date, a time or a CellFault; rows may be of different lengths and end
    at the last cell that is filled.
    Large ones (CSV, Parquet) come as `table`. Of a CSV its columns are strings named c0, c1, ... and its first record
    is the table's first; `row_numbers[k]` is the line on which record k starts (None: record k is row k + 1).
    Of a Parquet file (`has_names`) the columns keep their names and types, and record k is row k + 1.
    """

    name: str
    rows: list[list[object]] | None = None
    table: pa.Table | None = None
    has_names: bool = False
    row_numbers: pa.Array | None = None
    is_hidden: bool = False


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to mend or to know, as a person would say it; `sheet` and `cell` are "" where they do not apply."""

    sheet: str
    cell: str  # as a spreadsheet names it, "C7"; of a CSV or Parquet file too
    found: str
    expected: str
    how: str  # how to mend it
    is_note: bool = False  # a note is told and holds nothing


@dataclass(frozen=True, slots=True)
class Reading:
    """What a reader made of one file: its sheets, or the findings that say why it cannot be read."""

    sheets: list[Sheet] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    saved_at: datetime | None = None  # when it was saved last, where the document says so
