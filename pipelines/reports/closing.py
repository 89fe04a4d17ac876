"""closing.csv: how far each troop's season's end has come, and what is settled; the same in a sentence for its papers.

Comes in: a Week. Goes out: text (UTF-8, LF), from the season's last week on, or where a troop is closed.
"""

import csv
import io
from collections.abc import Iterator

from pipelines.reports.csv_tables import written
from pipelines.reports.week import Row, Week, day

CLOSING = ("troop", "ready", "open_points", "charged", "proceeds", "credits", "owed", "with_organisation")


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """closing.csv."""
    rows = due_rows(week)
    if rows:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(CLOSING)
        writer.writerows(
            [written(row["is_ready"] if name == "ready" else row[name]) for name in CLOSING] for row in rows
        )
        yield "closing.csv", out.getvalue().encode()


def due_rows(week: Week) -> list[Row]:
    """The troops whose season's end is to be told of: from the last week on all of them, before it the closed."""
    rows = week.figures.rows("closing", week.as_of)
    return [row for row in rows if row["close_no"] is not None or week.as_of >= week.season.week_endings[-1]]


def points_of(week: Week, troop: str) -> list[Row]:
    """What is open for a troop, in order."""
    return week.figures.rows("closing_points", week.as_of, troop)


def payment(week: Week, row: Row) -> str:
    """Who pays whom how much by when, in one payment: all that is open between a troop and the organisation."""
    if not row["pays"]:
        return "Nothing is to be paid."
    so_far = "" if row["close_no"] is not None else "As it stands, "
    payer, payee = ("The troop", "the organisation") if row["pays"] > 0 else ("The organisation", "the troop")
    said = f"{payer} pays {payee} {week.money(abs(row['pays']))} by {day(row['settle_by'])}."
    return f"{so_far}{said[0].lower()}{said[1:]}" if so_far else said


def end_said(week: Week, troop: str) -> str:
    """What a troop's last papers say: that nothing is open, or exactly what is; empty before the season's end."""
    row = next((one for one in due_rows(week) if one["troop"] == troop), None)
    if row is None:
        return ""
    points = points_of(week, troop)
    if not points and not row["to_settle"]:
        return "The season's end: nothing is open."
    told = " ".join(point["what"] for point in points)
    return f"Open at the season's end: {told} {payment(week, row)}".replace("  ", " ")
