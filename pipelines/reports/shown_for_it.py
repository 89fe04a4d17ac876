"""What participants have to show for it, and what is packed, bought and posted: awards.csv, to_buy.csv, packing.csv,
credit.csv, postage.csv.

Comes in: a Week. Goes out: the tables that have rows; an empty troop in to_buy.csv is the area, an empty order in
packing.csv is a promise on paper. Of postage.csv only orders whose postage the organisation told.
"""

import csv
import io
from collections.abc import Iterator, Sequence

from pipelines.figures.figures import Relation
from pipelines.reports.csv_tables import written
from pipelines.reports.week import Row, Week

TABLES: dict[Relation, dict[str, str]] = {  # of each its columns, and what they are called within
    "awards": {name: name for name in ("troop", "participant", "award", "steps_done", "steps", "progress", "earned_on",
                                       "handed_on", "state", "missing")},
    "to_buy": {name: name for name in ("troop", "award", "earned", "handed", "to_buy", "cost")},
    "packing": {"troop": "troop", "participant": "participant", "order": "order_no", "item": "item",
                "packages": "packages", "to_fetch": "to_fetch"},
    "credit": {name: name for name in ("troop", "participant", "place", "date", "start", "packages")},
    "postage": {"troop": "troop", "order": "order_no", "packages": "packages", "zone": "zone", "asked": "asked",
                "ours": "ours", "differs": "differs"},
}  # fmt: skip


def rows_of(week: Week, relation: Relation) -> list[Row]:
    """The rows of one of the tables, sorted by their leading columns."""
    rows = [row for row in week.figures.rows(relation, week.as_of) if relation != "postage" or row["asked"] is not None]
    first = list(TABLES[relation].values())[:4]
    return sorted(rows, key=lambda row: tuple("" if row[name] is None else str(row[name]) for name in first))


def table_text(week: Week, relation: Relation, troop: str | None = None) -> str:
    """One of the tables as CSV text; of one troop only, if one is named."""
    rows = [row for row in rows_of(week, relation) if troop in (None, row["troop"])]
    return text(TABLES[relation], rows)


def text(columns: dict[str, str], rows: Sequence[Row]) -> str:
    """Rows as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([written(row[name]) for name in columns.values()] for row in rows)
    return out.getvalue()


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """Each table that has something to say."""
    for relation in TABLES:
        if rows_of(week, relation):
            yield f"{relation}.csv", table_text(week, relation).encode()
