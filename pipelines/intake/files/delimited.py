"""A CSV file, or any table of text → its records as they are.

Comes in: the file's bytes. Goes out: Contents with one table of strings, c0, c1, ...; an empty cell is "", a cell that
is missing because its line ended early is null. Encoding and separator are told by content. Arrow reads what is
well-formed; whatever is not goes to Python's csv module in its strict mode, which says on which line it stopped.
"""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from itertools import zip_longest

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from pipelines.definitions.limits import MOST_COLUMNS_OF_TEXT, MOST_IN_A_CELL, MOST_IN_A_TABLE
from pipelines.intake.files.texts import as_utf8, line_of
from pipelines.intake.files.wire import Contents, Told, Unreadable, note, unreadable

SEPARATORS = "\t;|,"  # where two fit equally, the one that is rarer within a cell
SAMPLE_BYTES = 262_144
ROWS_AT_ONCE = 50_000
FILL_IN = "Fill it in, save it, and send it again."
SAME_CELLS = "the same number of cells on each line, separated by commas, semicolons, tabs or |"


def read_delimited(payload: bytes) -> Contents:
    """The records of a table of text; raises Unreadable."""
    body, told = as_utf8(payload)
    if b"\r" in body and b"\n" not in body:
        body = body.replace(b"\r", b"\n")  # line ends of old Macs
    separator, first_line = _declared_separator(body)
    if first_line:
        body = body[body.index(b"\n") + 1 :]
        if not body.strip():
            raise unreadable("no line below the one that names the separator", "a header and rows", FILL_IN)
    told += _cut_off(body, first_line)
    separator = separator or told_separator(body[:SAMPLE_BYTES])
    table, lines, longer = _read(body, separator, first_line)
    table = table.replace_schema_metadata({"separator": separator})  # by which decimals are told
    if lines is None and first_line:
        lines = pa.array(range(first_line + 1, first_line + 1 + table.num_rows), pa.int64())
    table, lines = _without_empty_ends(table, lines)
    if not table.num_rows:
        found = "a table of text without a filled cell"
        raise unreadable(found, "a header and rows", FILL_IN)
    if table.num_columns == 1:
        found = "one column only: no comma, semicolon, tab or | separates cells"
        told.append(note(found, SAME_CELLS, "If it has several columns, save it as CSV with commas between them."))
    told += longer
    return Contents([], told, table, lines=lines)


def _cut_off(body: bytes, lines_before: int) -> list[Told]:
    """A note where the last line does not end: nobody can tell a last cell that was cut from one that is short."""
    if body.endswith(b"\n") or b"\n" not in body:
        return []
    how = "The file may have been cut off there: look whether its last line is whole, and whether lines are missing."
    cell = f"A{line_of(body, len(body)) + lines_before}"
    return [note("a last line without a line end", "a text that ends with its last line", how, cell=cell)]


def _declared_separator(body: bytes) -> tuple[str, int]:
    """The separator that a first line `sep=;` names, as spreadsheet programs write it, and how many lines it takes."""
    found = re.match(rb'"?sep=([,;\t|])"?\r?\n', body)
    return (found[1].decode(), 1) if found else ("", 0)


def told_separator(sample: bytes) -> str:
    """The separator by which most lines have the same number of cells; a comma where none gives two."""
    if len(sample) == SAMPLE_BYTES:
        sample = sample[: sample.rfind(b"\n") + 1] or sample
    text = sample.decode("utf-8", "replace")
    best = (0.0, 0, 0, ",")
    for rank, separator in enumerate(reversed(SEPARATORS)):
        if separator not in text:
            continue
        counts = Counter(_widths(text, separator))
        width, lines = max(((w, n) for w, n in counts.items() if w > 1), key=lambda one: one[1], default=(0, 0))
        if lines:
            best = max(best, (lines / counts.total(), width, rank, separator))
    return best[3]


def _widths(text: str, separator: str) -> Iterator[int]:
    """Cells on each filled line, as far as the sample can be read."""
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            if any(row):
                yield len(row)
    except csv.Error:
        return


def _read(body: bytes, separator: str, lines_before: int) -> tuple[pa.Table, pa.Array | None, list[Told]]:
    """The table, the line of each record where that is not simply its number, and what is told of its lines."""
    has_quotes = b'"' in body
    is_sound = not has_quotes or is_well_quoted(body, separator)
    if is_sound:
        try:
            table = _fast(body, separator, has_quotes=has_quotes)
        except pa.ArrowInvalid:
            pass  # lines of different lengths: the csv module keeps their cells
        else:
            if all(_longest(column) <= MOST_IN_A_CELL for column in table.columns):
                return table, _lines(table, lines_before) if has_quotes else None, []
    is_spaced = not is_sound and re.search(rf'{re.escape(separator)} +"'.encode(), body) is not None
    return _careful(body, separator, lines_before, is_spaced=is_spaced)


def is_well_quoted(body: bytes, separator: str) -> bool:
    """Whether each quotation mark opens or closes a whole cell, or is doubled inside one."""
    marks = np.frombuffer(body, np.uint8)
    quotes = np.flatnonzero(marks == ord('"'))
    if len(quotes) % 2:
        return False
    edges = np.zeros(256, bool)
    edges[[ord(separator), ord("\n"), ord("\r"), ord('"')]] = True
    opening, closing = quotes[0::2], quotes[1::2]
    before = opening[1:] if len(opening) and opening[0] == 0 else opening
    after = closing[:-1] if len(closing) and closing[-1] == len(marks) - 1 else closing
    # A quotation mark beside another is its neighbour in this list too: a closing and an opening one, which is one
    # doubled inside a cell.
    return bool(edges[marks[before - 1]].all() and edges[marks[after + 1]].all())


def _fast(body: bytes, separator: str, *, has_quotes: bool) -> pa.Table:
    start = io.StringIO(body[:SAMPLE_BYTES].decode("utf-8", "replace"), newline="")
    width = max(1, len(next(csv.reader(start, delimiter=separator))))
    if width > MOST_COLUMNS_OF_TEXT:
        raise too_wide(1, width)
    names = [f"c{k}" for k in range(width)]
    return pa_csv.read_csv(
        pa.BufferReader(body),
        read_options=pa_csv.ReadOptions(column_names=names),
        parse_options=pa_csv.ParseOptions(
            delimiter=separator,
            quote_char='"' if has_quotes else False,
            newlines_in_values=has_quotes,
            ignore_empty_lines=False,
        ),
        convert_options=pa_csv.ConvertOptions(
            column_types=dict.fromkeys(names, pa.string()), null_values=[], strings_can_be_null=False
        ),
    )


def _longest(column: pa.ChunkedArray) -> int:
    return pc.max(pc.binary_length(column)).as_py() or 0


def _lines(table: pa.Table, lines_before: int) -> pa.Array | None:
    """The line on which each record starts, where cells hold line breaks."""
    breaks = None
    for column in table.columns:
        count = pc.count_substring(column, "\n")
        breaks = count if breaks is None else pc.add(breaks, count)
    if breaks is None or not pc.any(pc.greater(breaks, 0)).as_py():
        return None
    total = np.cumsum(breaks.to_numpy().astype(np.int64))
    starts = np.arange(1, len(total) + 1) + lines_before
    starts[1:] += total[:-1]
    return pa.array(starts, pa.int64())


def _careful(
    body: bytes, separator: str, lines_before: int, *, is_spaced: bool
) -> tuple[pa.Table, pa.Array | None, list[Told]]:
    """The same by the csv module: lines of different lengths are kept; `is_spaced`: spaces stand before some quotes."""
    csv.field_size_limit(MOST_IN_A_CELL)
    text = io.StringIO(body.decode("utf-8"), newline="")
    reader = csv.reader(text, delimiter=separator, strict=True, skipinitialspace=is_spaced)
    pieces: list[pa.Table] = []
    lines: list[int] = []
    rows: list[list[str]] = []
    widths: Counter[int] = Counter()  # of filled lines
    open_ended: dict[int, int] = {}  # width of a line whose last cell is empty → the first such line
    widest, line = 0, 1
    try:
        for row in reader:
            if len(row) > widest:
                widest = len(row)
                if widest > MOST_COLUMNS_OF_TEXT:
                    raise too_wide(line + lines_before, widest)
            if any(row):
                widths[len(row)] += 1
                if not row[-1]:
                    open_ended.setdefault(len(row), line)
            rows.append(row)
            lines.append(line)
            line = reader.line_num + 1
            if len(rows) == ROWS_AT_ONCE:
                if widest * len(lines) > MOST_IN_A_TABLE:
                    raise too_wide(line + lines_before, widest)
                pieces.append(_table(rows))
                rows = []
    except csv.Error as error:
        raise _broken_quotes(body, line + lines_before, str(error)) from None
    if widest * len(lines) > MOST_IN_A_TABLE:
        raise too_wide(line + lines_before, widest)
    pieces.append(_table(rows))
    table = pa.concat_tables(pieces, promote_options="default")
    is_plain = not lines or lines[-1] == len(lines)
    numbers = None if is_plain else pa.array([n + lines_before for n in lines], pa.int64())
    return table, numbers, _longer(widths, open_ended, lines_before)


def _longer(widths: Counter[int], open_ended: dict[int, int], lines_before: int) -> list[Told]:
    """A note where lines have a separator more than most and nothing behind it: their cells may have moved aside.

    Where something stands behind it, it is told when the table is known.
    """
    usual = widths.most_common(1)[0][0] if widths else 0
    if not (longer := {width: line for width, line in open_ended.items() if width > usual}):
        return []
    found = "a line with more separators than the others"
    how = "Look whether a cell of it stands one column too far to the right."
    return [note(found, SAME_CELLS, how, cell=f"A{min(longer.values()) + lines_before}")]


def _table(rows: list[list[str]]) -> pa.Table:
    columns = [pa.array(column, pa.string()) for column in zip_longest(*rows)]
    return pa.table(columns, names=[f"c{k}" for k in range(len(columns))])


def too_wide(line: int, width: int) -> Unreadable:
    """What is told of a line with more cells than a table has columns."""
    found = (
        f"a line of {width:,} cells"
        if width > MOST_COLUMNS_OF_TEXT
        else f"a line of {width:,} cells among many short ones"
    )
    how = "Delete what stands to the right of the table, and send it again."
    return unreadable(found, SAME_CELLS, how, cell=f"A{line}")


def _broken_quotes(body: bytes, line: int, error: str) -> Unreadable:
    """What is told of a quotation mark that does not close its cell, or only far below."""
    if "field limit" in error:
        found = f"a cell of more than {MOST_IN_A_CELL:,} characters, from a quotation mark that is not closed nearby"
    else:
        found = "a quotation mark that does not close the cell it opens"
    how = 'Look at the quotation marks from this line on: a " within a cell is written twice (""). Then send it again.'
    return unreadable(found, "cells in pairs of quotation marks, or without", how, cell=f"A{line}")


def _without_empty_ends(table: pa.Table, lines: pa.Array | None) -> tuple[pa.Table, pa.Array | None]:
    """The table without the rows at its end and the columns at its right that hold nothing."""
    last_row = last_column = -1
    for k, column in enumerate(table.columns):
        filled = np.flatnonzero(pc.fill_null(pc.greater(pc.binary_length(column), 0), False).to_numpy())
        if len(filled):
            last_column, last_row = k, max(last_row, int(filled[-1]))
    if last_column + 1 < table.num_columns and table.num_rows and not table.column(last_column + 1)[0].is_valid:
        last_column += 1  # lines that go on beyond the header, with nothing there: their cells may have moved aside
    table = table.select(range(last_column + 1)).slice(0, last_row + 1)
    return table, None if lines is None else lines.slice(0, last_row + 1)
