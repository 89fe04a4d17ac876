"""A sheet from elsewhere, through its mapping → a Raw of the contract's table, each value still with its own cell.

Comes in: a sheet, its header, a Mapping, the season (for what a case holds and what a package costs). Goes out: a Raw
to be judged like any other, and findings.
"""

from collections.abc import Iterator
from pathlib import PurePosixPath
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipelines.definitions.columns import Column
from pipelines.definitions.contract import MONEY_COLUMNS, WIDE_SHEETS
from pipelines.definitions.records import Finding, Sheet
from pipelines.definitions.season import Season
from pipelines.intake.elsewhere.headers import Head, folded
from pipelines.intake.elsewhere.mapping import Feed, Mapping
from pipelines.intake.elsewhere.rewriting import Rewriting, in_cases, rewritten, times_price
from pipelines.intake.elsewhere.rows_apart import part_read, rows_passed
from pipelines.intake.judging.tables import (
    LONE_CELL,
    Cells,
    Headed,
    Raw,
    any_filled,
    picked,
    take_table,
)


class Given(NamedTuple):
    """What a mapping is applied with: its name, itself, the season, the number and the name of the file."""

    name: str
    mapping: Mapping
    season: Season
    file_no: int
    file_name: str = ""


def take_mapped(given: Given, sheet: Sheet, head: Head) -> tuple[Raw, list[Finding]]:
    """The sheet's rows as the mapping reads them, and what is to be told of them."""
    one = given.mapping
    whole = sheet
    sheet, findings = part_read(sheet, head, one.until)
    places = _places(one, head)
    width = len(head.labels)
    beyond = dict.fromkeys(range(width, _width(sheet)), "")
    passed, told = rows_passed(given.name, one, sheet, head, places)
    findings += told
    raw, told = take_table(given.file_no, sheet, Headed(one.of, head.row, places, beyond), frozenset(passed))
    findings += told
    if one.items:
        raw, told = _in_long_form(given, raw)
        findings += told
    raw.is_mapped = True
    _fill_in(given, raw, whole)
    _rewrite(given, raw)
    return raw, findings


def _width(sheet: Sheet) -> int:
    if sheet.rows is not None:
        return max(map(len, sheet.rows), default=0)
    return sheet.table.num_columns if sheet.table is not None else 0


def _at(head: Head) -> dict[str, int]:
    """Where each label of a header stands."""
    return {folded(label): place for place, label in reversed([*enumerate(head.labels)])}


def _places(one: Mapping, head: Head) -> dict[str, int]:
    """Where the columns stand that headers feed; those of single items under their header, marked."""
    at = _at(head)
    places = {column: at[folded(feed.header)] for column, feed in one.columns.items() if feed.header is not None}
    return places | {_of_item(header): at[folded(header)] for header in one.items}


def _of_item(header: str) -> str:
    return f"packages of {header}"  # no column of the contract is named so


def _in_long_form(given: Given, raw: Raw) -> tuple[Raw, list[Finding]]:
    """A column for each item → a row for each item that is filled in; money gets a row of its own where it must."""
    one, codes = given.mapping, {code.casefold(): code for code in given.season.codes}
    items = [(_of_item(header), codes.get(code.casefold(), code)) for header, code in one.items.items()]
    with_money = one.table in WIDE_SHEETS
    rows, which = [], []
    is_item = np.zeros(len(raw), bool)
    for number, (name, _code) in enumerate(items):
        filled = np.flatnonzero(any_filled([raw.columns[name]], len(raw)))
        is_item[filled] = True
        rows.append(filled)
        which.append(np.full(len(filled), number))
    without = np.flatnonzero(~is_item)
    placeholders = set(raw.placeholders)
    kept = range(len(raw)) if with_money else [k for k in without.tolist() if k in placeholders]
    rows.append(np.array(kept, int))
    which.append(np.full(len(kept), len(items)))
    row, item = np.concatenate(rows).astype(int), np.concatenate(which).astype(int)
    order = np.lexsort((item, row))
    long = _spread(raw, row[order].tolist(), item[order].tolist(), items)
    findings = []
    if not with_money and (lost := [k for k in without.tolist() if k not in placeholders]):
        how = "Nothing was taken from them."
        found = f"{len(lost):,} rows without packages of any item"
        where = f"A{raw.row_nos[lost[0]]}"
        findings.append(Finding(raw.sheet(lost[0]), where, found, "packages of an item", how, is_note=True))
    return long, findings


def _spread(raw: Raw, rows: list[int], which: list[int], items: list[tuple[str, str]]) -> Raw:
    """The long form: for each of these rows the item that it is of; the number after the last is of none."""
    count = len(items)
    columns: dict[str, Cells] = {}
    for name, cells in raw.columns.items():
        if not name.startswith("packages of "):
            taken = picked(cells, rows)
            if raw.table.name in WIDE_SHEETS and count:
                is_other = [(number < count) if name in MONEY_COLUMNS else False for number in which]
                if any(is_other):
                    taken = _emptied(taken, is_other)
            columns[name] = taken
    of_items = [raw.columns[name] for name, _code in items]
    packages = [None if k == count else of_items[k][row] for row, k in zip(rows, which, strict=True)]
    columns["packages"] = [cell.as_py() if isinstance(cell, pa.Scalar) else cell for cell in packages]
    columns["item"] = [None if k == count else items[k][1] for k in which]
    long = Raw(raw.table, raw.file_nos, raw.sheets, picked(raw.row_nos, rows), columns)
    long.letters = {name: place for name, place in raw.letters.items() if name in columns}
    at = [raw.letters[name] for name, _code in items]
    long.letters["packages"] = [-1 if k == count else int(at[k]) for k in which]  # type: ignore[arg-type]
    back: dict[int, int] = {}
    for position, row in enumerate(rows):
        back.setdefault(row, position)
    long.row_faults = {back[row]: found for row, found in raw.row_faults.items() if row in back}
    placeholders = set(raw.placeholders)
    long.placeholders = [k for k, row in enumerate(rows) if row in placeholders]
    return long


def _emptied(cells: Cells, where: list[bool]) -> Cells:
    if isinstance(cells, pa.Array):
        return pc.if_else(pa.array(where), pa.scalar(None, cells.type), cells)
    return [None if is_other else cell for cell, is_other in zip(cells, where, strict=True)]


def _fill_in(given: Given, raw: Raw, sheet: Sheet) -> None:
    """What does not stand in the rows: constants, and cells outside of them."""
    size = len(raw)
    for column, text in given.mapping.constants.items():
        raw.columns[column] = pa.repeat(pa.scalar(text), size) if text else pa.nulls(size, pa.string())
        raw.instead[column] = f"constants.{column} of {given.name}"
    for column, feed in given.mapping.columns.items():
        if feed.cell:
            raw.columns[column] = [lone_cell(sheet, feed.cell)] * size
            raw.instead[column] = feed.cell
        elif feed.name_of:
            text = given.file_name if feed.name_of == "file" else sheet.name
            raw.columns[column] = [
                PurePosixPath(text.replace("\\", "/")).stem if feed.name_of == "file" else text
            ] * size
            raw.instead[column] = f"the {feed.name_of}'s name"


def lone_cell(sheet: Sheet, name: str) -> object:
    """A cell by its name, such as B2; None where the sheet does not reach so far."""
    found = LONE_CELL.fullmatch(name)
    if found is None:
        return None
    column, row = 0, int(found[2]) - 1
    for mark in found[1]:
        column = column * 26 + ord(mark) - 64
    column -= 1
    if sheet.rows is not None:
        return sheet.rows[row][column] if row < len(sheet.rows) and column < len(sheet.rows[row]) else None
    table = sheet.table
    if table is None or sheet.has_names or column >= table.num_columns:
        return None
    if sheet.row_numbers is not None:
        row = pc.index(sheet.row_numbers, row + 1).as_py()
    return table.column(column)[row].as_py() if 0 <= row < table.num_rows else None


def columns_read(one: Mapping) -> Iterator[tuple[Column, Feed]]:
    """The columns whose cells are read from the file, each with what feeds it; packages of items by their own."""
    for column in one.of.columns:
        feed = one.columns.get(column.name)
        if feed and not feed.by_price:
            yield column, feed
        elif one.items and column.name == "packages":
            yield column, Feed(header=next(iter(one.items)))


def _rewrite(given: Given, raw: Raw) -> None:
    """Every cell as the contract writes it; what cannot be read so is refused, with its cell."""
    one = given.mapping
    for column, feed in columns_read(one):
        cells = raw.columns[column.name]
        work = Rewriting.of(column, feed, one, given.season, cells)
        done, refused = rewritten(cells, work)
        if done is not cells:
            raw.as_found[column.name], raw.columns[column.name] = cells, done
        if refused:
            raw.refused[column.name] = refused
    if one.by_case:
        done, refused = in_cases(raw.columns["item"], raw.columns["packages"], given.season)
        raw.as_found.setdefault("packages", raw.columns["packages"])
        raw.columns["packages"] = done
        raw.refused["packages"] = raw.refused.get("packages", {}) | refused
    if one.columns.get("goods_amount", Feed(cell="A1")).by_price:
        raw.columns["goods_amount"] = times_price(raw.columns["item"], raw.columns["packages"], given.season)
        raw.as_found["goods_amount"] = raw.found_column("packages")
        raw.letters["goods_amount"] = raw.letters["packages"]
        raw.by_item |= {"goods_amount"}
