"""Rows → files: CSV, Parquet, one bulk workbook, and a troop's workbook for each week.

Comes in: tables of rows (seasons.Made). Goes out: files in a folder, as troops and organisations would send them.
"""

import csv
import re
import zipfile
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl
import polars
import xlsxwriter
from seasons import SHEETS, Row

Tables = dict[str, list[Row]]


def as_text(value: object) -> object:
    """A value as a CSV cell."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " ".join(map(str, value))
    return "" if value is None else str(value)


def write_csv(path: Path, rows: list[Row], columns: Iterable[str] | None = None) -> Path:
    """One table as CSV."""
    names = list(columns or rows[0])
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(names)
        writer.writerows([as_text(row[name]) for name in names] for row in rows)
    return path


def write_parquet(path: Path, rows: list[Row]) -> Path:
    """One table as Parquet: days as days, money as decimals, codes as text."""
    columns = {}
    for name in rows[0]:
        values = [as_text(row[name]) if isinstance(row[name], list | bool) else row[name] for row in rows]
        decimals = any(isinstance(value, Decimal) for value in values)
        columns[name] = polars.Series(name, values, dtype=polars.Decimal(12, 4) if decimals else None, strict=True)
    polars.DataFrame(columns).write_parquet(path)
    return path


def write_csvs(folder: Path, tables: Tables) -> Path:
    """Every table that has rows, each as one CSV in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        if rows:
            write_csv(folder / f"{name}.csv", rows)
    return folder


def write_parquets(folder: Path, tables: Tables) -> Path:
    """Every table that has rows, each as one Parquet file in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        if rows:
            write_parquet(folder / f"{name}.parquet", rows)
    return folder


def write_bulk_workbook(path: Path, tables: Tables) -> Path:
    """Every table that has rows, each on a sheet of one workbook; troops' codes as text."""
    book = xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd", "strings_to_numbers": False})
    for name, rows in tables.items():
        if not rows:
            continue
        sheet = book.add_worksheet(name)
        sheet.write_row(0, 0, list(rows[0]))
        for at, row in enumerate(rows, 1):
            for column, value in enumerate(row.values()):
                plain = as_text(value) if isinstance(value, list | bool) else value
                sheet.write(at, column, float(plain) if isinstance(plain, Decimal) else plain)
    book.close()
    return path


def by_week(sheets: Tables) -> dict[tuple[str, date], Tables]:
    """The rows of each troop-week, by sheet."""
    weeks: dict[tuple[str, date], Tables] = defaultdict(lambda: {name: [] for name in SHEETS})
    for name, rows in sheets.items():
        for row in rows:
            weeks[row["troop"], row["week_ending"]][name].append(row)
    return weeks


def widened(name: str, rows: list[Row]) -> list[Row]:
    """Long rows of Families or Stalls as a workbook has them: one row each, a column for each item."""
    keys = ("participant",) if name == "families" else ("date", "start", "place")
    wide: dict[tuple[object, ...], Row] = {}
    for row in rows:
        line = wide.setdefault(tuple(row[key] for key in keys), {key: row[key] for key in keys})
        if "participants" in row:
            line["participants"] = as_text(row["participants"])
        if row["item"]:
            line[row["item"]] = row["packages"]
        else:
            line |= {name: row[name] for name in ("cash", "card", "note", "gift") if name in row}
    return list(wide.values())


def write_workbook(path: Path, troop: str, week: date, tables: Tables) -> Path:
    """One troop's workbook of one week; sheets without rows are left out, save Cover and Stock."""
    book = openpyxl.Workbook()
    cover = book.active
    cover.title = "Cover"
    cover.append(["Troop", troop])
    cover.append(["Week ending", week])
    for row in tables["cover"]:
        for name in ("prepared_by", "prepared_on", "bank_balance", "balance_on", "note"):
            cover.append([name.replace("_", " ").capitalize(), row[name]])
    for name in SHEETS[1:]:
        rows = widened(name, tables[name]) if name in ("families", "stalls") else tables[name]
        if not rows and name != "stock":
            continue
        columns = list(dict.fromkeys(key for row in rows for key in row if key not in ("troop", "week_ending")))
        sheet = book.create_sheet(name.capitalize())
        sheet.append(columns or ["item", "received", "damaged", "on hand"])
        for row in rows:
            sheet.append([row.get(column) for column in columns])
    book.save(path)
    return path


def write_workbooks(folder: Path, sheets: Tables) -> Path:
    """A workbook for each troop-week."""
    folder.mkdir(parents=True, exist_ok=True)
    for (troop, week), tables in by_week(sheets).items():
        write_workbook(folder / f"{troop} week {week}.xlsx", troop, week, tables)
    return folder


def stamp(path: Path, saved: datetime | None) -> None:
    """Writes when a workbook (.xlsx) says that it was saved last, or takes that out."""
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    told = b"" if saved is None else f"<dcterms:modified>{saved:%Y-%m-%dT%H:%M:%SZ}</dcterms:modified>".encode()
    core = parts["docProps/core.xml"]
    parts["docProps/core.xml"] = re.sub(rb"<dcterms:modified.*?</dcterms:modified>", told, core)
    with zipfile.ZipFile(path, "w") as packed:
        for name, payload in parts.items():
            packed.writestr(name, payload)
