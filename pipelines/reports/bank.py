"""bank.csv: each line of the troops' banks and what it answers, and what of the book no line answers yet.

Comes in: a Week. Goes out: text (UTF-8, LF) and the same as Parquet, only where a line of a bank came in.
"""

import csv
import io
from collections.abc import Iterator

from pipelines.reports.csv_tables import written
from pipelines.reports.parquet_tables import parquet
from pipelines.reports.week import Week

BANK = ("troop", "line", "date", "amount", "kind", "answers", "days", "state")


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """bank.csv and tables/bank.parquet, where there is something to say."""
    frame = week.figures.frame("bank", week.as_of).select(BANK)
    if frame.num_rows:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(BANK)
        writer.writerows([written(row[name]) for name in BANK] for row in frame.to_pylist())
        yield "bank.csv", out.getvalue().encode()
        yield "tables/bank.parquet", parquet(frame)
