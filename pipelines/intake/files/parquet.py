"""A Parquet file → its table, names and types kept.

Comes in: an open file. Goes out: Contents. The file's own metadata are asked before anything of it is unpacked.
"""

from typing import BinaryIO

import pyarrow as pa
import pyarrow.parquet as pq

from pipelines.intake.files.wire import Contents, unreadable

MOST_ROWS = 20_000_000
MOST_BYTES = 2_000_000_000  # unpacked
MOST_COLUMNS = 2_000


def read_parquet(file: BinaryIO) -> Contents:
    """The table of a Parquet file; raises Unreadable."""
    try:
        opened = pq.ParquetFile(file, page_checksum_verification=True)
        meta = opened.metadata
        size = sum(meta.row_group(k).total_byte_size for k in range(meta.num_row_groups))
        if meta.num_rows > MOST_ROWS or size > MOST_BYTES:
            found = f"a Parquet table of {meta.num_rows:,} rows and {size / 1e6:,.0f} MB once unpacked"
            most = f"at most {MOST_ROWS:,} rows and {MOST_BYTES / 1e6:,.0f} MB"
            raise unreadable(found, most, "Split it, by weeks for instance, and send the parts.")
        if meta.num_columns > MOST_COLUMNS:
            raise unreadable(f"{meta.num_columns:,} columns", f"at most {MOST_COLUMNS:,}", "Send the table alone.")
        nested = [field.name for field in opened.schema_arrow if pa.types.is_nested(field.type)]
        if nested:
            raise unreadable(
                f"the column {nested[0]!r}, which holds lists or records in its cells",
                "one value in each cell",
                "Write the table with plain columns, and send it again.",
            )
        table = opened.read()
        table.validate(full=True)  # text that is no UTF-8 would stop whoever looks into it
    except (pa.ArrowException, OSError, ValueError, KeyError):
        raise unreadable(
            "a damaged Parquet table", "a Parquet table that is whole", "Export it once more, and send that."
        ) from None
    return Contents([], [], _plain(table), has_names=True)


def _plain(table: pa.Table) -> pa.Table:
    """The table without dictionaries: a column of categories holds their texts."""
    types = {f.name: f.type.value_type if pa.types.is_dictionary(f.type) else f.type for f in table.schema}
    return table.cast(pa.schema(types.items()))
