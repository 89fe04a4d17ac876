"""bank.csv: each line of the troops' banks and what it answers, and what of the book no line answers yet.

Comes in: a Week. Goes out: text (UTF-8, LF), only where a line of a bank came in.
"""

import csv
import io
from collections.abc import Iterator

from pipelines.reports.csv_tables import shown
from pipelines.reports.week import Week

BANK = ("troop", "line", "date", "amount", "kind", "answers", "days", "state")


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """bank.csv, where there is something to say."""
    rows = week.figures.rows("bank", week.as_of)
    if rows:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(BANK)
        writer.writerows([shown(row[name]) for name in BANK] for row in rows)
        yield "bank.csv", out.getvalue().encode()
