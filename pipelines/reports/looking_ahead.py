"""What will still sell, and the plan made of it: outlook.csv, plan-moves.csv, plan-fetch.csv.

Comes in: a Week. Goes out: the tables that have rows. The outlook's means have six decimals, ranges are whole numbers;
an empty troop stands for the area, an empty item for all stocked items.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

from pipelines.figures.stock_plan_table import planned
from pipelines.reports.csv_tables import written
from pipelines.reports.week import Row, Week

OUTLOOK = ("troop", "item", "week_ending", "mean", "low", "high", "on_hand", "word")
MOVES = ("drive", "giver", "receiver", "item", "packages", "reason")
FETCHES = ("troop", "item", "cases", "have", "soon_90", "worth", "reason")


def plan_of(week: Week) -> list[Row]:
    """The plan of the week's own day: moves drive by drive, then fetches."""
    rows: list[Row] = planned(week.figures.frame("plan_terms", week.as_of)).to_pylist()
    return rows


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """Each table that has something to say."""
    ahead = [row | {"week_ending": week.as_of} for row in week.figures.rows("outlook", week.as_of)]
    rows = plan_of(week)
    for name, columns, listed in (
        ("outlook.csv", OUTLOOK, sorted(ahead, key=lambda row: (row["troop"] or "", row["item"] or ""))),
        ("plan-moves.csv", MOVES, [row for row in rows if row["kind"] == "move"]),
        ("plan-fetch.csv", FETCHES, [row for row in rows if row["kind"] != "move"]),
    ):
        if listed:
            yield name, _text(columns, listed).encode()


def _text(columns: Sequence[str], rows: list[Row]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_shown(name, row[name]) for name in columns] for row in rows)
    return out.getvalue()


def _shown(name: str, value: Any) -> str:
    """Means and worths with six decimals, ranges as whole numbers, texts as every table writes them."""
    is_whole = isinstance(value, float) and name not in ("mean", "worth")
    return written(int(value) if is_whole else value)
