"""Amounts in a table of text of which nobody can tell where the decimals begin.

Comes in: a Raw of a delimited table, the separator of its cells, what stands in each column. Goes out: cells refused.
`40,000` between semicolons is 40 in half the world; `40,50` between commas, without quotes, is two cells.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pyarrow as pa
import pyarrow.compute as pc

from pipelines.definitions.records import Sheet

if TYPE_CHECKING:
    from pipelines.intake.judging.tables import Raw

MONEY = ("money", "money_noted", "money_signed")
THOUSANDS = r"^[-+]?[^0-9,;]{0,4}[0-9]{1,3}(,[0-9]{3})+$"
BETWEEN_SEMICOLONS = (
    "an amount whose decimals are plain, such as 40.00 or 40000",
    "Between semicolons a comma may be the decimal sign: type the amount without commas.",
)
BETWEEN_COMMAS = (
    "an amount in one cell, such as 40.50",
    "The line has a cell too many: a decimal comma without quotes makes two. Type the amount with a point.",
)


def doubt(raw: "Raw", sheet: Sheet, places: dict[str, int], extras: Mapping[int, Any]) -> None:
    """Refuses what may be meant otherwise; `extras`: the columns that the table does not know, by their place."""
    assert sheet.table is not None  # noqa: S101 - of a delimited file
    separator = (sheet.table.schema.metadata or {}).get(b"separator", b",")
    money = [column.name for column in raw.table.columns if column.kind in MONEY and column.name in places]
    if separator == b";":
        for name in money:
            _refuse(raw, name, pc.match_substring_regex(raw.columns[name], THOUSANDS), BETWEEN_SEMICOLONS)
    last = max(places.values())
    beyond = min((place for place in extras if place > last), default=None)
    if separator != b"," or beyond is None:
        return
    by_place = {places[name]: raw.columns[name] for name in places} | dict(extras)
    is_longer = pc.is_valid(by_place[beyond])
    for name in money:
        behind = by_place.get(places[name] + 1)
        if behind is not None:
            is_whole = pc.match_substring_regex(raw.columns[name], r"^[-+]?\D{0,2}[0-9]+$")
            is_split = pc.and_(is_whole, pc.match_substring_regex(behind, "^[0-9]{1,2}$"))
            _refuse(raw, name, pc.and_(is_longer, is_split), BETWEEN_COMMAS)


def _refuse(raw: "Raw", name: str, mask: pa.Array, why: tuple[str, str]) -> None:
    rows = pc.indices_nonzero(pc.fill_null(mask, False)).to_pylist()
    if rows:
        raw.refused.setdefault(name, {}).update(dict.fromkeys(rows, why))
