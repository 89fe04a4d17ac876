"""A region's roll-up: workbook, CSV, Parquet and a manifest, whole or not at all.

Comes in: Sums and what was left out. Goes out: a folder. The same areas give the same bytes in every file but the
manifest, which alone carries the time of making.
"""

import csv
import hashlib
import io
import json
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pyarrow as pa

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import RELATIONS
from pipelines.region.adding import Row, Sums
from pipelines.region.sources import LeftOut
from pipelines.region.workbook import workbook
from pipelines.reports.csv_tables import written
from pipelines.reports.parquet_tables import parquet
from pipelines.reports.whole_folder import MARK, whole_folder

MAKERS = ("musterbook", "duckdb", "pyarrow", "xlsxwriter")  # whose versions the bytes depend on
OF_ORDERS = ("mode", "state", "orders", "packages", "goods_amount")
COMPARED = ("measure", "value", "expected", "low_95", "high_95", "z", "chance", "adjusted", "is_low", "is_high")
OF_ITEMS = (
    "item",
    "title",
    "price",
    *(name for name in RELATIONS["item_totals"] if name not in ("item", "title", "price")),
)


def write(sums: Sums, left: Sequence[LeftOut], out: Path) -> dict[str, str]:
    """Puts the region's roll-up in a folder's place; its files with their SHA-256. Raises Stop for somebody's own."""
    files: dict[str, str] = {}
    with whole_folder(out) as folder:
        for path, content in _files(sums, left):
            files[path] = hashlib.sha256(content).hexdigest()
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(content)
        manifest = _manifest(sums, left, dict(sorted(files.items())))
        (folder / MARK).write_text(json.dumps(manifest, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
    return files


def tables(sums: Sums, left: Sequence[LeftOut]) -> dict[str, list[Row]]:
    """Every table of the region's roll-up, by name, as rows of plain columns."""
    labels = {name: rule.label for name, rule in rules().items()}
    own = {one.levels: one.as_of for one in sums.areas}
    names = sums.names()
    placed_in = [
        {"level": sums.level(group), **{name: dict(levels).get(name, "") for name in names}}
        for group, levels in enumerate(sums.groups)
    ]  # the names of a group's levels, empty where it is a sum over all of them

    def placed(row: Row) -> Row:
        return placed_in[row["group"]]

    def of(row: Row, names: Sequence[str]) -> Row:
        return {name: row[name] for name in names if name in row}

    measures = [name for name in RELATIONS["area"] if name in (sums.totals[0] if sums.totals else ())]
    return {
        "region": [
            placed(row) | {"as_of": own.get(sums.groups[row["group"]], sums.as_of)} | of(row, measures)
            for row in sums.totals
        ],
        "items": [placed(row) | of(row, OF_ITEMS) for row in sums.items],
        "orders": [placed(row) | of(row, OF_ORDERS) for row in sums.orders],
        "exceptions": [
            placed(row) | {"rule": row["rule"], "label": labels.get(row["rule"], row["rule"])}
            | of(row, ("found", "troops", "at_stake")) for row in sums.exceptions
        ],
        "compared": [placed(row) | of(row, COMPARED) for row in sums.compared],
        "left_out": [{"folder": str(one.folder), "reason": one.reason} for one in left],
    }  # fmt: skip


def _files(sums: Sums, left: Sequence[LeftOut]) -> Iterator[tuple[str, bytes]]:
    made = tables(sums, left)
    yield "region.xlsx", workbook(sums, made)
    for name, rows in made.items():
        yield f"{name}.csv", csv_text(name, rows).encode()
        if rows and name != "left_out":
            yield f"tables/{name}.parquet", parquet(pa.Table.from_pylist(rows))


def csv_text(name: str, rows: Sequence[Row]) -> str:
    """A table of the region's roll-up, or of a part of it, as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(rows[0] if rows else ("folder", "reason") if name == "left_out" else ("level",))
    writer.writerows([written(value) for value in row.values()] for row in rows)
    return out.getvalue()


def _manifest(sums: Sums, left: Sequence[LeftOut], files: dict[str, str]) -> dict[str, Any]:
    return {
        "season": sums.areas[0].terms["season"][0],
        "as_of": sums.as_of.isoformat(),
        "week": sums.week,
        "currency": sums.areas[0].terms["currency"],
        "made_at": f"{datetime.now(UTC).replace(tzinfo=None).isoformat()}Z",
        "versions": {name: version(name) for name in MAKERS},
        "files": files,
        "areas": [
            {"folder": str(one.folder), "levels": dict(one.levels), "as_of": one.as_of.isoformat(),
             "known_on": one.known_on, "files": one.terms["files"]}
            for one in sums.areas
        ],
        "left_out": [{"folder": str(one.folder), "reason": one.reason} for one in left],
    }  # fmt: skip
