"""Ways in which tables of cells go wrong between one program and another: text, and the cells of a workbook.

Comes in: a file's bytes and dice. Goes out: the same WAYS, with more in them (see corruptions.py).
"""

import csv
import io
from collections.abc import Callable
from functools import cache

import pyarrow as pa
import pyarrow.parquet as pq
from corruptions import WAYS, Dice, Way, way
from made_files import written

from pipelines.intake.files.archive import Parts
from pipelines.intake.files.xlsx import read_xlsx

CSV = ("csv",)
GRIDS = ("csv", "xlsx")
Grid = list[list[object]]


def places(payload: bytes, *marks: bytes) -> list[int]:
    return [at for at, byte in enumerate(payload) if bytes([byte]) in marks]


def without(payload: bytes, at: int) -> bytes:
    return payload[:at] + payload[at + 1 :]


# Text: separators, line ends, quotation marks, encodings


@way("a separator lost", CSV)
def separator_lost(payload: bytes, dice: Dice) -> bytes:
    return without(payload, dice.choice(places(payload, b",")))


@way("a separator added", CSV)
def separator_added(payload: bytes, dice: Dice) -> bytes:
    at = dice.choice(places(payload, b",", b"\n"))
    return payload[:at] + b"," + payload[at:]


@way("another separator on some lines", CSV)
def separators_mixed(payload: bytes, dice: Dice) -> bytes:
    other = dice.choice([b";", b"\t", b"|", b" "])
    lines = payload.splitlines(keepends=True)
    return b"".join(line.replace(b",", other) if dice.random() < 0.4 else line for line in lines)


@way("another separator", CSV)
def another_separator(payload: bytes, dice: Dice) -> bytes:
    return payload.replace(b",", dice.choice([b";", b"\t", b"|", b"^", b" ", b":"]))


@way("a line end lost", CSV)
def line_end_lost(payload: bytes, dice: Dice) -> bytes:
    return without(payload, dice.choice(places(payload, b"\n")[:-1]))


@way("a line end added", CSV)
def line_end_added(payload: bytes, dice: Dice) -> bytes:
    at = dice.choice(places(payload, b","))
    return payload[:at] + b"\n" + payload[at + dice.choice([0, 1]) :]


@way("a quotation mark added", CSV)
def quote_added(payload: bytes, dice: Dice) -> bytes:
    at = dice.randrange(len(payload))
    return payload[:at] + b'"' + payload[at:]


@way("a quotation mark lost", CSV)
def quote_lost(payload: bytes, dice: Dice) -> bytes:
    quoted = as_text([[f'{cell} "x", y' if dice.random() < 0.05 else cell for cell in row] for row in grid_of(payload)])
    return without(quoted, dice.choice(places(quoted, b'"') or [0]))


@way("cut within a line", CSV)
def cut_within_a_line(payload: bytes, dice: Dice) -> bytes:
    at = dice.randrange(1, len(payload))
    return payload[: at + 1] if payload[at - 1 : at] == b"\n" else payload[:at]


@way("cut at a line's end", CSV, ())
def cut_at_a_line_end(payload: bytes, dice: Dice) -> bytes:
    return payload[: dice.choice(places(payload, b"\n")) + 1]


@way("another encoding", CSV)
def another_encoding(payload: bytes, dice: Dice) -> bytes:
    codecs = ["utf-16", "utf-16-le", "utf-16-be", "utf-8-sig", "cp1252", "utf-32", "utf-7", "cp500", "cp437"]
    text = payload.decode().replace("note", "näte" if dice.random() < 0.2 else "note")
    return text.encode(dice.choice(codecs), "replace")


@way("other line ends", CSV)
def other_line_ends(payload: bytes, dice: Dice) -> bytes:
    return payload.replace(b"\n", dice.choice([b"\r\n", b"\r", b"\n\n", b"\r\r\n", b"\x0b", b"\x85", b"\n\r"]))


@way("spaces round cells", CSV)
def spaced(payload: bytes, dice: Dice) -> bytes:
    return payload.replace(b",", dice.choice([b", ", b" ,", b" , ", b",\xc2\xa0", b"\t,"]))


# Cells, as text or in a workbook


@cache
def sheets_of(payload: bytes) -> dict[str, Grid]:
    """A workbook's sheets; not to be altered."""
    return {sheet.name: sheet.rows for sheet in read_xlsx(payload, Parts(payload)).sheets}


def grid_of(payload: bytes) -> Grid:
    return [list(row) for row in csv.reader(io.StringIO(payload.decode(), newline=""))]


def as_text(grid: Grid) -> bytes:
    held = io.StringIO(newline="")
    csv.writer(held, lineterminator="\n").writerows(grid)
    return held.getvalue().encode()


def in_grid(edit: Callable[[Grid, Dice], Grid]) -> Callable[[bytes, Dice], bytes]:
    """An edit of a table: of a text as a whole, of a workbook one of its sheets with a header."""

    def alter(payload: bytes, dice: Dice) -> bytes:
        if not payload.startswith(b"PK"):
            return as_text(edit(grid_of(payload), dice))
        sheets = {name: [list(row) for row in rows] for name, rows in sheets_of(payload).items()}
        name = dice.choice([name for name in sheets if name != "Cover"])
        sheets[name] = edit(sheets[name], dice)
        return written(sheets)

    return alter


def numbers(grid: Grid) -> list[tuple[int, int]]:
    """Where numbers stand, the ones that are codes left out."""
    return [
        (r, c)
        for r, row in enumerate(grid[1:], 1)
        for c, cell in enumerate(row)
        if isinstance(cell, int | float) or (isinstance(cell, str) and cell.replace(".", "", 1).isdigit() and c > 1)
    ]


def edited_number(edit: Callable[[str, Dice], object]) -> Callable[[Grid, Dice], Grid]:
    def change(grid: Grid, dice: Dice) -> Grid:
        if found := numbers(grid):
            r, c = dice.choice(found)
            cell = grid[r][c]
            shown = str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell)
            grid[r][c] = edit(shown, dice)
        return grid

    return change


def another_form(shown: str, dice: Dice) -> str:
    """The same number as another program or person writes it."""
    whole, _, part = shown.partition(".")
    wide = str.maketrans("0123456789.-", "０１２３４５６７８９．－")  # noqa: RUF001 - full-width digits
    arabic = str.maketrans("0123456789", "٠١٢٣٤٥٦٧٨٩")
    forms = [
        f"{whole},{part or '00'}",
        f"{whole}.{part or '0'}00",
        f"{whole}.{(part or '0').ljust(3, '0')}",
        shown.translate(wide),
        shown.translate(arabic),
        f" {shown} ",
        f"\u00a0{shown}",
        f"{whole[:1]} {shown[1:]}",
        f"{whole[:1]}'{shown[1:]}",
        f"{whole[:-3]}.{whole[-3:]}" if len(whole) > 3 else f"{whole},{part or '00'}",
        f"{whole[:-3] or '1'}.{whole[-3:].rjust(3, '0')},00",
        f"+{shown}",
        f"${shown}",
        f"{shown} $",
        f"€ {shown}",
        f"USD {shown}",
        f"'{shown}",
        f"={shown}",
        f"{shown}-",
        f"({shown})",
        f"-{shown}",
        f"\u2212{shown}",
        f"{shown}e0",
        f"{shown}E+01",
        f"0x{shown}",
        f"{shown} pcs",
        f"ca. {shown}",
        f"{shown}/2",
        f"{shown}%",
        f"{shown} + 2",
        shown.replace("0", "O").replace("1", "l"),
        f"{shown}½",
        f"{shown}²",
        "#####",
        "#REF!",
        "NaN",
        "inf",
        "none",
        "-",
        f"{shown}\n{shown}",
        f"{shown}\u200b",
        f"\u202e{shown}",
    ]
    return dice.choice(forms)


def means_the_same_or_nothing(form: str, shown: str) -> bool:
    """Whether a sane reader takes this form for this number or for none: a sign turned is another number."""
    return form not in (f"-{shown}", f"\u2212{shown}")


def another_number_form(grid: Grid, dice: Dice) -> Grid:
    def edit(shown: str, dice: Dice) -> str:
        while True:
            form = another_form(shown, dice)
            if means_the_same_or_nothing(form, shown):
                return form

    return edited_number(edit)(grid, dice)


def another_day_form(grid: Grid, dice: Dice) -> Grid:
    from datetime import date

    found = [(r, c) for r, row in enumerate(grid) for c, cell in enumerate(row) if str(cell)[:5] in ("2027-", "2026-")]
    if not found:
        return grid
    r, c = dice.choice(found)
    day = date.fromisoformat(str(grid[r][c])[:10])
    forms = ["%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%Y%m%d", "%d %b %Y", "%G-W%V-%u", "%Y-%m-%d 00:00:00", "%y-%m-%d",
             "%Y/%m/%d", "%Y-%m-%dT23:59:59Z", "%A", "%m-%d", "%Y-%m", "%s"]  # fmt: skip
    grid[r][c] = day.strftime(dice.choice(forms))
    return grid


def shifted(shown: str, dice: Dice) -> object:
    return float(shown) * dice.choice([10, 100, 0.1, 0.01])


def header_damaged(grid: Grid, dice: Dice) -> Grid:
    at = dice.randrange(len(grid[0]))
    cell = str(grid[0][at] or "x")
    others = [one for one in grid[0] if one != grid[0][at]]
    damaged = ["", cell[: len(cell) // 2], f"{cell}x", dice.choice(others), cell[::-1], f"{cell} (2)", "\u200b" + cell]
    grid[0][at] = dice.choice(damaged)
    return grid


def header_elsewhere(grid: Grid, dice: Dice) -> Grid:
    how = dice.randrange(5)
    if how == 0:
        return grid[1:]
    if how == 1:
        return [["Spring sale", "", "as at Friday"], [], *grid]
    if how == 2:
        at = dice.randrange(1, len(grid) + 1)
        return [*grid[1:at], grid[0], *grid[at:]]
    if how == 3:
        return [grid[0], *grid]
    return [*[["above"]] * 25, *grid]


def blank_rows(grid: Grid, dice: Dice) -> Grid:
    for _ in range(3):
        grid.insert(dice.randrange(1, len(grid) + 1), [])
    return grid


def columns_moved(grid: Grid, dice: Dice) -> Grid:
    width = max(map(len, grid))
    order = dice.sample(range(width), width)
    return [[row[at] if at < len(row) else None for at in order] for row in grid]


def rows_moved(grid: Grid, dice: Dice) -> Grid:
    return [grid[0], *dice.sample(grid[1:], len(grid) - 1)]


def names_swapped(grid: Grid, dice: Dice) -> Grid:
    a, b = dice.sample(range(len(grid[0])), 2)
    grid[0][a], grid[0][b] = grid[0][b], grid[0][a]
    return grid


def row_changed(grid: Grid, dice: Dice) -> Grid:
    """A row lost, doubled, shifted to a side, or a cell emptied."""
    at = dice.randrange(1, len(grid))
    row = grid[at]
    return [
        *grid[:at],
        *dice.choice([[], [row, row], [[None, *row]], [row[1:]], [[*row[:3], None, *row[4:]]]]),
        *grid[at + 1 :],
    ]


def column_lost(grid: Grid, dice: Dice) -> Grid:
    at = dice.randrange(len(grid[0]))
    return [[*row[:at], *row[at + 1 :]] for row in grid]


for _name, _edit, _is_told in (
    ("a number in another form", another_number_form, True),
    ("a day in another form", another_day_form, True),
    ("a header damaged", header_damaged, True),
    ("the header elsewhere", header_elsewhere, True),
    ("blank rows between", blank_rows, True),
    ("columns in another order", columns_moved, True),
    ("rows in another order", rows_moved, True),
    ("a decimal sign shifted", edited_number(shifted), False),
    ("a digit altered", edited_number(lambda shown, dice: shown[:-1] + dice.choice("0123456789")), False),
    ("two headers swapped", names_swapped, False),
    ("a row lost, doubled or shifted", row_changed, False),
    ("a column lost", column_lost, False),
):
    WAYS[_name] = Way(GRIDS, in_grid(_edit), GRIDS if _is_told else ())


# Parquet: the same table with other types


@way("columns of another type", ("parquet",))
def another_type(payload: bytes, dice: Dice) -> bytes:
    table = pq.read_table(io.BytesIO(payload))
    at = dice.randrange(table.num_columns)
    name = table.column_names[at]
    kinds = [pa.string(), pa.float64(), pa.float32(), pa.decimal128(18, 4), pa.timestamp("ms"), pa.large_string(),
             pa.int8(), pa.binary(), pa.decimal128(12, 3), pa.dictionary(pa.int32(), pa.string())]  # fmt: skip
    try:
        table = table.set_column(at, name, table[name].cast(dice.choice(kinds)))
    except (pa.ArrowException, OverflowError):
        table = table.rename_columns(
            [dice.choice([name.upper(), f"{name}_x", ""]) if n == name else n for n in table.column_names]
        )
    held = io.BytesIO()
    pq.write_table(table, held, write_page_checksum=True)
    return held.getvalue()
