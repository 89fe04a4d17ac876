"""What stands around a table in a file from elsewhere: a title that states the troop or the week, totals, a last line.

Comes in: a sheet, its header, the keys proposed so far. Goes out: cells that feed columns, rows that are no rows.
"""

import re
from collections.abc import Iterator, Sequence
from typing import Any

import pyarrow as pa
from rapidfuzz import fuzz

from pipelines.definitions.contract import Column, Table, fold
from pipelines.definitions.records import Sheet
from pipelines.intake.elsewhere.headers import Head, top_rows
from pipelines.intake.elsewhere.other_names import phrases_of, words_of
from pipelines.intake.elsewhere.read_through import first_filled
from pipelines.intake.elsewhere.rewriting import DAYS
from pipelines.intake.files.wire import column_letters as letter
from pipelines.intake.judging.judge import TOTALS, text_of
from pipelines.intake.judging.tables import Cells, is_empty

SURE = 88  # of 100: how like a title's word must be to a column's name


def from_title(stated: dict[str, Any], table: Table, sheet: Sheet, head: Head) -> None:
    """The troop, the week or a day that no column gives, where a line above the header states it beside its name."""
    fed = stated.setdefault("columns", {})
    wanted = [one for one in table.columns if one.required and one.name not in fed and one.kind in ("troop", *DAYS)]
    for column, place, form in _titled(wanted, top_rows(sheet)[: max(0, head.row - head.lines + 1)]):
        if column.name not in fed:
            fed[column.name] = {"cell": place} | ({"form": form} if form else {})


def _titled(wanted: Sequence[Column], rows: Sequence[Sequence[object]]) -> Iterator[tuple[Column, str, str]]:
    for number, row in enumerate(rows, 1):
        filled = [(place, cell) for place, cell in enumerate(row) if not is_empty(cell)]
        for nth, (place, cell) in enumerate(filled):
            if not isinstance(cell, str):
                continue
            name, _colon, value = cell.partition(":")
            for column in wanted:
                if max(fuzz.token_sort_ratio(words_of(name), phrase) for phrase in phrases_of(column.name)) < SURE:
                    continue
                if value.strip():
                    yield (
                        column,
                        f"{letter(place)}{number}",
                        cell[: len(cell.rstrip()) - len(value.strip())].lstrip() + "{}",
                    )
                elif nth + 1 < len(filled):
                    yield column, f"{letter(filled[nth + 1][0])}{number}", ""


def rows_to_pass(cells: Sequence[Cells], head: Head) -> list[str]:
    """First cells of rows that are no rows of the table: totals, and a lone line below it."""
    if len(head.labels) < 3 or not cells:
        return []
    first = first_filled(list(cells))
    found = [text_of(cell) for cell in first if isinstance(cell, str) and _is_total(cell)]
    for row in range(max(0, len(first) - 4), len(first)):
        filled = [column[row] for column in cells]
        lone = [one for cell in filled if not is_empty(one := cell.as_py() if isinstance(cell, pa.Scalar) else cell)]
        if len(lone) == 1 and isinstance(lone[0], str) and not _is_total(lone[0]):
            found.append(re.split(r"[\s:]", lone[0].strip())[0] + "*")
    return list(dict.fromkeys(found))[:20]


def _is_total(cell: str) -> bool:
    said = fold(cell)
    return said in TOTALS or (said.startswith(("grandtotal", "total")) and len(said) < 40)
