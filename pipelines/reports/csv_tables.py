"""standing.csv, items.csv, families.csv and exceptions.csv: the tables of the roll-up as plain text, exact.

Comes in: Figures and a day. Goes out: text (UTF-8, LF), sorted by code point; money with two decimals, shares with six.
"""

import csv
import io
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import pyarrow as pa

from pipelines.definitions.contract import FORMULA_STARTS
from pipelines.definitions.measures import columns
from pipelines.figures.figures import Figures, Relation
from pipelines.reports.week import Week

SIX = Decimal("0.000001")
FOR_ORGANISATION = True  # it has what may leave for the organisation: no family's rows, nobody's code, no notes

TABLES: tuple[Relation, ...] = ("standing", "items", "families", "exceptions")
COLUMNS: dict[Relation, tuple[str, ...]] = {relation: columns(relation, "csv") for relation in TABLES}


def shown(value: object) -> str:
    """One value as the tables show it; a float with six decimals, half away from zero."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case float():
            exact = Decimal(repr(value)).quantize(SIX, ROUND_HALF_UP)
            return f"{abs(exact) if exact == 0 else exact:f}"
        case datetime() | date() | time():
            return value.isoformat()
        case _:
            return str(value)


def table(figures: Figures, relation: Relation, as_of: date) -> pa.Table:
    """One of the tables with the columns of the roll-up, in order; money stays decimal, evidence is text."""
    names = COLUMNS[relation]
    source = ["as_of" if name == "week_ending" else name for name in names]
    frame = figures.frame(relation, as_of).select(source).rename_columns(list(names))
    if "evidence" in names:
        told = pa.array([_evidence(pieces) for pieces in frame["evidence"].to_pylist()], pa.string())
        frame = frame.set_column(names.index("evidence"), "evidence", told)
    return frame


def _evidence(pieces: list[dict[str, Any]]) -> str:
    """Each piece of evidence: the file, sheet and cell it stands in, and what it says."""
    told = []
    for piece in pieces:
        place = " ".join(str(part) for part in (piece["file"], piece["sheet"], piece["cell"]) if part)
        number = piece["amount"] if piece["amount"] is not None else piece["packages"]
        said = " ".join(str(part) for part in (number, piece["says"]) if part is not None)
        told.append(f"{place}: {said}" if piece["file"] else said)
    return "; ".join(told)


def written(value: object) -> str:
    """One value as it stands in a CSV: a text that a spreadsheet would run as a formula has an apostrophe in front."""
    text = shown(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(FORMULA_STARTS) else text


def table_text(figures: Figures, relation: Relation, as_of: date) -> str:
    """One of the tables as CSV text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS[relation])
    cells = [column.to_pylist() for column in table(figures, relation, as_of).columns]
    writer.writerows([written(value) for value in row] for row in zip(*cells, strict=True))
    return out.getvalue()


def tables_of(week: Week) -> tuple[Relation, ...]:
    """The tables of a roll-up; one for the organisation has no rows of families, and nothing that names them."""
    return TABLES[:2] if week.for_organisation else TABLES


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """standing.csv, items.csv, families.csv, exceptions.csv."""
    for relation in tables_of(week):
        yield f"{relation}.csv", table_text(week.figures, relation, week.as_of).encode()
