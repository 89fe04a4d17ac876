"""What stands around a table in a file from elsewhere: a title that states the troop or the week, totals, a last line.

Comes in: a sheet, its header, the keys proposed so far. Goes out: cells that feed columns, rows that are no rows.
"""

import re
from collections.abc import Iterator, Sequence
from pathlib import PurePosixPath
from typing import Any

import pyarrow as pa
from rapidfuzz import fuzz

from pipelines.definitions.columns import Column, Table
from pipelines.definitions.records import Sheet
from pipelines.definitions.season import Season
from pipelines.intake.elsewhere.headers import Head, top_rows
from pipelines.intake.elsewhere.other_names import phrases_of, words_of
from pipelines.intake.elsewhere.rewriting import DAYS
from pipelines.intake.elsewhere.rows_apart import first_filled
from pipelines.intake.elsewhere.ways_of_writing import day_in
from pipelines.intake.files.wire import column_letters as letter
from pipelines.intake.judging.codes import begins_as_total
from pipelines.intake.judging.judge import text_of
from pipelines.intake.judging.tables import Cells, is_empty

A_DATE = re.compile(
    r"(?<!\d)(?:\d{4}([-./])\d{1,2}\1\d{1,2}|\d{1,2}(?:st|nd|rd|th)?[ .]+[A-Za-z]{3,9}\.? +\d{4}"
    r"|[A-Za-z]{3,9}\.? +\d{1,2}(?:st|nd|rd|th)?,? +\d{4})(?!\d)"
)
SURE = 88  # of 100: how like a title's word must be to a column's name


def from_title(
    stated: dict[str, Any], table: Table, sheet: Sheet, head: Head, season: Season, file_name: str = ""
) -> None:
    """The troop, the week or a day that no column gives, where a line above the header states it beside its name.

    A week is looked for in any title too, and in the name of the file: a date on which a week ends.
    """
    fed = stated.setdefault("columns", {})
    wanted = [one for one in table.columns if one.required and one.name not in fed and one.kind in ("troop", *DAYS)]
    for column, place, form in _titled(wanted, top_rows(sheet)[: max(0, head.row - head.lines + 1)]):
        if column.name not in fed:
            fed[column.name] = {"cell": place} | ({"form": form} if form else {})
    if any(one.name == "week_ending" for one in wanted) and "week_ending" not in fed:
        titles = [
            ({"cell": f"{letter(place)}{number}"}, cell.strip())
            for number, row in enumerate(top_rows(sheet)[: max(0, head.row - head.lines + 1)], 1)
            for place, cell in enumerate(row)
            if isinstance(cell, str)
        ]
        titles.append(({"name_of": "file"}, PurePosixPath(file_name.replace("\\", "/")).stem))
        found = [(feed, form) for feed, text in titles if (form := _form_of_week(text, season))]
        if len(found) == 1:
            fed["week_ending"] = {**found[0][0], "form": found[0][1]}


def _form_of_week(text: str, season: Season) -> str:
    """A title as a form, `{}` where it holds its only date, if a week ends on it; else nothing."""
    dates = [(found, day) for found in A_DATE.finditer(text) if (day := day_in(found[0], None))]
    if len(dates) != 1 or any(mark in text for mark in "{}*") or not season.is_week_ending(dates[0][1]):
        return ""
    found = dates[0][0]
    form = f"{text[: found.start()]}{{}}{text[found.end() :]}"
    return form if len(form) > 2 else ""


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


def rows_to_pass(cells: Sequence[Cells], head: Head) -> tuple[list[str], list[int]]:
    """Rows that are no rows of the table: totals by the whole text they begin with, lone lines at its end by place."""
    if len(head.labels) < 3 or not cells:
        return [], []
    first = first_filled(list(cells))
    texts = [text_of(cell) for cell in first if isinstance(cell, str) and begins_as_total(cell)]
    filled = [row for row, cell in enumerate(first) if cell is not None]
    places = []
    for back, row in enumerate(reversed(filled[-4:]), 1):
        lone = [one for column in cells if not is_empty(one := _plain(column[row]))]
        if len(lone) == 1 and isinstance(lone[0], str) and not begins_as_total(lone[0]):
            places.append(-back)
    return list(dict.fromkeys(texts))[:20], places


def _plain(cell: object) -> object:
    return cell.as_py() if isinstance(cell, pa.Scalar) else cell
