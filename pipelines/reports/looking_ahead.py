"""What will still sell, and the plan made of it: outlook.csv, plan-moves.csv, plan-fetch.csv, plan.pdf.

Comes in: a Week. Goes out: the tables that have rows, and the plan to print, with room for two signatures a move.
The outlook's means have six decimals, ranges are whole numbers; an empty troop stands for the area, an empty item for
all stocked items.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

from pipelines.figures.stock_plan_table import plan_cells, planned
from pipelines.messages.looking_ahead import drive_title, drives, plan_sentence
from pipelines.reports.csv_tables import written
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Row, Week, day

OUTLOOK = ("troop", "item", "week_ending", "mean", "low", "high", "on_hand", "word")
MOVES = ("drive", "giver", "receiver", "item", "packages", "reason")
PAPERS = {
    "plan.pdf": "Moves and fetches to print", "outlook.csv": "Outlook", "plan-moves.csv": "Moves",
    "plan-fetch.csv": "Fetches",
}  # fmt: skip
FETCHES = ("troop", "item", "cases", "have", "soon_90", "worth", "reason")


def plan_of(week: Week) -> list[Row]:
    """The plan of the week's own day: moves drive by drive, then fetches."""
    rows: list[Row] = planned(week.figures.frame("plan_terms", week.as_of)).to_pylist()
    return rows


def short_of(week: Week) -> int:
    """How many packages lack on the week's own day, before anything is moved or fetched."""
    return sum(row["short"] for row in plan_cells(week.figures.frame("plan_terms", week.as_of)).to_pylist())


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """Each table that has something to say, and the plan to print."""
    rows = plan_of(week)
    for name, text in tables(week, rows).items():
        yield name, text.encode()
    if rows:
        yield "plan.pdf", printed(week, rows)


def one_paper(week: Week, name: str) -> bytes:
    """One of PAPERS; empty where it has nothing to say."""
    return dict(papers(week)).get(name, b"")


def tables(week: Week, rows: list[Row]) -> dict[str, str]:
    """The tables that have rows, by name; `rows`: the plan."""
    ahead = [row | {"week_ending": week.as_of} for row in week.figures.rows("outlook", week.as_of)]
    found = (
        ("outlook.csv", OUTLOOK, sorted(ahead, key=lambda row: (row["troop"] or "", row["item"] or ""))),
        ("plan-moves.csv", MOVES, [row for row in rows if row["kind"] == "move"]),
        ("plan-fetch.csv", FETCHES, [row for row in rows if row["kind"] != "move"]),
    )
    return {name: table(columns, listed) for name, columns, listed in found if listed}


def printed(week: Week, rows: list[Row]) -> bytes:
    """The plan as a PDF."""
    towns = {troop: row["town"] for troop, row in week.troops.items()}
    listed = [row for row in rows if row["kind"] != "move"]
    return pdf("plan.typ", {
        "paper": week.paper, "title": "Moves and fetches", "season": week.season.season.title,
        "area": week.season.season.area, "as_of": f"Week {week.week_no}, as of {day(week.as_of, weekday=True)}",
        "lead": plan_sentence(rows),
        "drives": [{"title": drive_title(moves, towns), "reasons": [row["reason"] for row in moves]}
                   for moves in drives(rows)],
        "fetches": [[row["troop"], row["item"], str(row["cases"]), str(row["packages"]), row["reason"]]
                    for row in listed],
        "cases": str(sum(row["cases"] for row in listed)),
        "by_item": ", ".join(f"{sum(row['cases'] for row in listed if row['item'] == item)} {item}"
                             for item in dict.fromkeys(row["item"] for row in listed)),
    })  # fmt: skip


def table(columns: Sequence[str], rows: list[Row]) -> str:
    """Rows as CSV, some columns of them."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_shown(name, row[name]) for name in columns] for row in rows)
    return out.getvalue()


def _shown(name: str, value: Any) -> str:
    """Means and worths with six decimals, ranges as whole numbers, texts as every table writes them."""
    is_whole = isinstance(value, float) and name not in ("mean", "worth")
    return written(int(value) if is_whole else value)
