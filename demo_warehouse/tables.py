"""A table of the demo and how it is written: CSV, Parquet or a sheet, the same bytes each time.

Comes in: a Table, whose money is cents. Goes out: a file.
"""

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter

from demo_warehouse.season import FIRST_DAY, dollars

MADE_AT = datetime.combine(FIRST_DAY, time(8))  # a fixed time of making, so that the same season gives the same bytes
XLSX = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
PARQUET_TYPES = {
    "text": pa.string(),
    "date": pa.date32(),
    "packages": pa.int32(),
    "money": pa.decimal128(12, 2),
    "yes/no": pa.string(),
}


@dataclass(frozen=True, slots=True)
class Table:
    """Columns by name and kind (text, date, packages, money, yes/no), and rows of str, date, int, bool or None."""

    columns: dict[str, str]
    rows: Sequence[Sequence[object]]


def write_table(table: Table, path: Path) -> None:
    """Writes by the path's ending: .csv, .parquet or .xlsx."""
    path.parent.mkdir(parents=True, exist_ok=True)
    {".csv": _write_csv, ".parquet": _write_parquet, ".xlsx": _write_xlsx}[path.suffix](table, path)


def _csv_money(value: object) -> str:
    return "" if value is None else dollars(int(str(value)))


def _csv_plain(value: object) -> str:
    return "" if value is None else str(value)


def _yes_no(value: object) -> str:
    return "" if value is None else "yes" if value else "no"


CSV_TEXT: dict[str, Callable[[object], str]] = {"money": _csv_money, "yes/no": _yes_no}


def _write_csv(table: Table, path: Path) -> None:
    as_text = [CSV_TEXT.get(kind, _csv_plain) for kind in table.columns.values()]
    columns = [list(map(text, column)) for text, column in zip(as_text, _columns(table), strict=True)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(table.columns)
        writer.writerows(zip(*columns, strict=True))


def _write_parquet(table: Table, path: Path) -> None:
    arrays = []
    for kind, column in zip(table.columns.values(), _columns(table), strict=True):
        values = column
        if kind == "money":
            values = [None if value is None else Decimal(int(str(value))).scaleb(-2) for value in column]
        elif kind == "yes/no":
            values = [_yes_no(value) for value in column]
        arrays.append(pa.array(values, PARQUET_TYPES[kind]))
    pq.write_table(pa.table(arrays, names=list(table.columns)), path)


def _write_xlsx(table: Table, path: Path) -> None:
    book = xlsxwriter.Workbook(str(path), XLSX)
    book.set_properties({"created": MADE_AT})
    day, money = book.add_format({"num_format": "yyyy-mm-dd"}), book.add_format({"num_format": "0.00"})
    sheet = book.add_worksheet(path.stem)
    sheet.write_row(0, 0, [name.replace("_", " ").capitalize() for name in table.columns])
    for k, row in enumerate(table.rows, 1):
        for n, (value, kind) in enumerate(zip(row, table.columns.values(), strict=True)):
            if value is None or value == "":
                continue
            if isinstance(value, date):
                sheet.write_datetime(k, n, value, day)
            elif kind == "money":
                sheet.write_number(k, n, int(str(value)) / 100, money)
            elif isinstance(value, int):
                sheet.write_number(k, n, value)
            else:
                sheet.write_string(k, n, str(value))
    book.close()


def _columns(table: Table) -> list[list[object]]:
    return [list(column) for column in zip(*table.rows, strict=True)] if table.rows else [[] for _ in table.columns]
