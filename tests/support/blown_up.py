"""A troop's week of which one dimension is blown up, as an attacker would: small files that ask for much work.

Comes in: nothing. Goes out: CASES by name, each with its bytes (made when asked for), and what is told of it ("" where
it is read like any other).
"""

import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import xlsxwriter
from made_files import Rows, edited, ods, written

FAR_ROW, FAR_COLUMN = 1_048_575, 16_383  # counted from 0
PLACEHOLDER = "a place for something long"
CODES = [f"0417-{k:02}" for k in range(1, 3)]


@dataclass(frozen=True)
class Case:
    """A file that asks for much: its bytes, and a part of what is told of it."""

    payload: Callable[[], bytes]
    told: str = ""
    name: str = "week.xlsx"


def sheets(**more: Rows) -> dict[str, Rows]:
    """A sound week of troop 0417, with rows added to its sheets, or sheets added."""
    week: dict[str, Rows] = {
        "Cover": [["troop", "0417"], ["week ending", date(2027, 2, 14)]],
        "Stock": [["item", "received", "damaged", "on_hand"], ["GLA", 0, 0, 20], ["HRB", 0, 0, 5]],
        "Families": [["participant", "GLA", "HRB", "cash", "card", "note"]],
        "Moves": [["date", "item", "packages", "direction", "other_troop"]],
        "Stalls": [["date", "start", "place", "GLA", "cash", "participants"]],
    }
    for name, rows in more.items():
        week[name] = [*week.get(name, []), *rows]
    return week


def week(**more: Rows) -> bytes:
    return written(sheets(**more))


def far_cell() -> bytes:
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True})
    for name, rows in sheets().items():
        page = book.add_worksheet(name)
        for r, row in enumerate(rows):
            page.write_row(r, 0, [cell.isoformat() if isinstance(cell, date) else cell for cell in row])
    page.write(FAR_ROW, FAR_COLUMN, 1)
    book.close()
    return held.getvalue()


def long_text(size: int) -> bytes:
    """A text of a length that no library writes."""
    small = week(Families=[[CODES[0], 1, 0, 0, 0, PLACEHOLDER]])
    return edited(small, lambda _name, part: part.replace(PLACEHOLDER.encode(), b"x" * size))


def many_texts(count: int) -> bytes:
    """One text of 30,000 characters, which as many cells share."""
    rows: Rows = [[PLACEHOLDER] for _ in range(count)]
    return edited(week(Own=rows), lambda _name, part: part.replace(PLACEHOLDER.encode(), b"x" * 30_000))


def nested(depth: int) -> bytes:
    """A paragraph in which as many spans stand one within the other."""
    paragraph = f"<text:p>{'<text:span>' * depth}x{'</text:span>' * depth}</text:p>"
    cell = f'<table:table-cell office:value-type="string">{paragraph}</table:table-cell>'
    return ods(f"<table:table-row>{cell}</table:table-row>")


def many_runs(count: int) -> bytes:
    """A text made of as many pieces."""
    runs = b"<r><t>a</t></r>" * count
    small = week(Families=[[CODES[0], 1, 0, 0, 0, PLACEHOLDER]])
    return edited(small, lambda _name, part: part.replace(f"<t>{PLACEHOLDER}</t>".encode(), runs))


def moves(count: int) -> Rows:
    """Rows of which every other cell is at fault, so that no two stand side by side."""
    return [["2027-02-10", "GLA", "many" if k % 2 else 1, "in" if k % 2 else "up", "0031"] for k in range(count)]


def with_parts(count: int) -> bytes:
    held = io.BytesIO(week())
    with zipfile.ZipFile(held, "a") as packed:
        for k in range(count):
            packed.writestr(f"xl/part{k}.xml", "")
    return held.getvalue()


MARKS = "".join(chr(0x300 + k % 0x30) for k in range(10_000))  # accents that are to be sorted
CASES = {
    "rows": Case(lambda: week(Families=[[f"f{k}", 1, 0, 0, 0, ""] for k in range(20_000)]), "20,001 rows|5,000 rows"),
    "rows within the table": Case(lambda: week(Families=[[f"f{k}"] for k in range(3_000)]), "3,001 filled rows"),
    "distance": Case(far_cell, "far from the table, in XFD1048576"),
    "columns": Case(lambda: week(Own=[[1] * 300]), "far from the table, in KN1"),
    "text": Case(lambda: long_text(20_000_000), "MB once unpacked|20,000,000 characters"),
    "text a little too long": Case(lambda: long_text(40_000), "a cell of 40,000 characters"),
    "text that many cells share": Case(lambda: many_texts(1_500), "characters of text"),
    "cells": Case(lambda: week(**{f"Own {k}": [[1] * 200] * 100 for k in range(4)}), "filled cells"),
    "sheets": Case(lambda: week(**{f"Own {k}": [[1]] for k in range(90)}), "95 sheets"),
    "parts": Case(lambda: with_parts(6_000), "parts"),
    "findings": Case(lambda: week(Moves=moves(1_900)), "many"),
    "labels on the cover": Case(lambda: week(Cover=[[f"prepareed {k:x} by", "x"] for k in range(1_900)])),
    "participants in a cell": Case(
        lambda: week(Stalls=[["2027-02-10", "10:00", "Gate", 1, 6, " ".join(f"p{k}" for k in range(5_000))]]),
        " p1 p2",
    ),
    "families": Case(lambda: week(Families=[[f"family-{k}", 1, 1, 6, 0, f"note {k}"] for k in range(1_900)])),
    "accents on a letter": Case(
        lambda: week(Families=[[f"f{k}", 1, 0, 0, 0, f"a{MARKS[k:]}"] for k in range(350)])
    ),
    "pieces of a text": Case(lambda: many_runs(30_000)),
    "nesting": Case(lambda: nested(200_000), "", "week.ods"),
}  # fmt: skip
