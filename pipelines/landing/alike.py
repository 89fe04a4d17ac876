"""What may stand in a file twice: rows alike, and a second table of one week that shares no row with the first.

Comes in: staged rows (landed_rows.stage), their Raw, what was answered about the file. Goes out: findings that ask, or
the staged rows with each double taken as one; rows of an earlier part of the week, added to a table that adds to it.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence

from pipelines.definitions.asked import PART, TWICE, said
from pipelines.definitions.columns import Table, fold
from pipelines.definitions.contract import MAY_STAND_TWICE
from pipelines.definitions.records import Finding
from pipelines.intake.judging.tables import Raw
from pipelines.landing import landed_rows
from pipelines.store.engine import Connection

Said = Callable[[int], Sequence[str]]  # of a file's number: the words answered about it
LINE_NUMBERS = {fold(one) for one in ("line", "line no", "line number", "row", "row no", "no", "nr", "pos", "position")}
LINE_NUMBERS |= {fold(one) for one in ("zeile", "entry", "entry no", "transaction", "transaction id", "id")}


def take_doubles(con: Connection, raw: Raw, answered: Said) -> list[tuple[int, Finding]]:
    """Takes rows alike as one where that is sure or was answered; else asks, at the second place and naming the first.

    One only: the key says that there can be but one, or a column numbers the lines and the number is the same too.
    """
    drop: list[int] = []
    times: dict[int, int] = {}
    asked: dict[tuple[int, str], tuple[int, Finding]] = {}
    taken: dict[int, list[tuple[int, int]]] = {}
    for rows in landed_rows.rows_alike(con, raw.table):
        first, file_no = rows[0], raw.file_no(rows[0])
        answer = said(answered(file_no), TWICE)
        if answer or _is_surely_one(raw, rows):
            drop += rows[1:]
            if answer == "twice":
                times[first] = len(rows)
            taken.setdefault(file_no, []).append((first, rows[1]))
            continue
        for row in rows[1:]:
            finding = _asked(raw, row, first)
            asked.setdefault((file_no, finding.sheet + finding.cell), (row, finding))
    landed_rows.take_as_one(con, raw.table, drop, times)
    notes = [(pairs[0][1], _note(raw, pairs, said(answered(no), TWICE))) for no, pairs in taken.items()]
    return [*asked.values(), *notes]


def _is_surely_one(raw: Raw, rows: Sequence[int]) -> bool:
    others = [tuple(str(raw.other(row, header)) for header in raw.others) for row in rows]
    if len(set(others)) > 1:
        return False
    is_numbered = any(fold(header) in LINE_NUMBERS and raw.other(rows[0], header) for header in raw.others)
    return is_numbered or raw.table.name not in MAY_STAND_TWICE


def named_at(raw: Raw, row: int) -> tuple[str, str]:
    """What a row's key says, and the column at which a double of it is told."""
    table = raw.table
    key = table.key or tuple(name for name in table.names if name not in ("troop", "week_ending"))
    if isinstance(raw.file_nos, list):  # a workbook's: the cover says troop and week, a wide row stands for its items
        key = {"families": ("participant",), "stalls": ("date", "start", "place")}.get(
            table.name, tuple(name for name in key if name not in ("troop", "week_ending"))
        )
    shown = " ".join(str(raw.found(row, name)) for name in key if raw.found(row, name) is not None)
    return shown, key[0] if table.name in ("families", "stalls") and len(key) < len(table.key) else key[-1]


def _asked(raw: Raw, row: int, first: int) -> Finding:
    shown, column = named_at(raw, row)
    column = column if raw.found(row, column) is not None else raw.table.key[-2] if raw.table.key else column
    found = f"{shown} a second time, alike: first in {_place(raw, first, raw.sheet(row))}"
    return Finding(raw.sheet(row), raw.cell(row, column), found, TWICE.expected, TWICE.how)


def _place(raw: Raw, row: int, sheet: str) -> str:
    own = raw.sheet(row)
    return f"row {raw.row_nos[row]}" + (f" of {own}" if own != sheet else "")


def _note(raw: Raw, pairs: Sequence[tuple[int, int]], answer: str) -> Finding:
    first, again = pairs[0]
    what = f"{len(pairs):,} rows that stand" if len(pairs) > 1 else "1 row that stands"
    found = f"{what} twice alike, first in {_place(raw, first, '')} and again here"
    how = "Both were counted, as was answered." if answer == "twice" else "Each was taken once."
    return Finding(raw.sheet(again), raw.cell(again, named_at(raw, again)[1]), found, "each row once", how, True)


def ask_for_parts(con: Connection, raw: Raw, answered: Said) -> Iterator[tuple[str, Finding]]:
    """Asks, by unit, where a bulk table of a week shares no row with what it would replace."""
    if raw.table.is_feed or raw.table.name == "cover" or said(answered(raw.file_no(0)), PART):
        return
    for unit, pos, name, rows in landed_rows.parts_not_shared(con, raw.table, raw.file_no(0)):
        found = f"a table that shares no row with the {rows:,} of {name}, which it would replace"
        yield unit, Finding(raw.sheet(pos), raw.cell(pos, "week_ending"), found, PART.expected, PART.how)


def add_parts(con: Connection, table: Table, file_no: int, words: Sequence[str]) -> None:
    """Takes the rows of earlier parts of a week into the units of a table that was said to add to them."""
    if said(words, PART) == "adds":
        landed_rows.take_parts_over(con, table, file_no)


def positions(findings: Iterable[tuple[int, Finding]]) -> set[int]:
    """The rows that findings hold."""
    return {row for row, finding in findings if not finding.is_note}
