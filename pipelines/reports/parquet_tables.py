"""The roll-up's tables once more, as Parquet: exact decimals, real dates, the same bytes each time.

Comes in: a Week. Goes out: tables/<name>.parquet with the columns and rows of <name>.csv.
"""

import io
from collections.abc import Iterator

import pyarrow as pa
import pyarrow.parquet as pq

from pipelines.reports.csv_tables import table, tables_of
from pipelines.reports.week import Week

FOR_ORGANISATION = True


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """tables/standing.parquet, items, families and exceptions."""
    for relation in tables_of(week):
        yield f"tables/{relation}.parquet", parquet(table(week.figures, relation, week.as_of))


def parquet(frame: pa.Table) -> bytes:
    """A table as Parquet's bytes, the same each time."""
    out = io.BytesIO()
    pq.write_table(frame.replace_schema_metadata(None), out, compression="zstd")
    return out.getvalue()
