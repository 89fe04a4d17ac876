"""Sums of areas: of the whole region, of each level named in the folders, and of each area.

Comes in: Areas. Goes out: Sums, whose rows are those that an area has of itself, one for each group of areas; and which
areas are out of line beside the others of their level, by the comparison that areas have of their troops.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pyarrow as pa

from pipelines.figures.comparison import comparisons
from pipelines.region.sources import Area, LeftOut, Levels, of_the_same_columns
from pipelines.store import engine, region_sql

Row = dict[str, Any]
REGION = "region"


@dataclass(frozen=True, slots=True)
class Sums:
    """What areas come to. `groups`: the levels of each, the first one () for all; rows name their group by number."""

    as_of: date
    week: int
    areas: tuple[Area, ...]
    groups: tuple[Levels, ...]
    totals: tuple[Row, ...]
    items: tuple[Row, ...]
    orders: tuple[Row, ...]
    exceptions: tuple[Row, ...]
    compared: tuple[Row, ...]

    def level(self, group: int) -> str:
        """What kind of group it is: region, council, area."""
        return self.groups[group][-1][0] if self.groups[group] else REGION

    def names(self) -> tuple[str, ...]:
        """The levels' names, outermost first."""
        return tuple(dict.fromkeys(name for levels in self.groups for name, _value in levels))


def added(areas: Sequence[Area], left: Sequence[LeftOut]) -> tuple[Sums | None, list[LeftOut]]:
    """Areas added up, None where there is none, and what is left out: also whoever's tables have other columns."""
    left = list(left)
    try:
        return (add_up(areas) if areas else None), left
    except engine.Fault:
        whole, odd = of_the_same_columns(areas)
        if not odd:
            raise
        return (add_up(whole) if whole else None), [*left, *odd]


def add_up(areas: Sequence[Area]) -> Sums:
    """Adds areas up; there is at least one. Raises a Fault where a table of one has not the columns of the others."""
    groups = sorted({one.levels[:depth] for one in areas for depth in range(len(one.levels) + 1)}, key=_order)
    place = {levels: number for number, levels in enumerate(groups)}
    shares = [
        region_sql.Share(
            one.folder, one.as_of, tuple(place[one.levels[:depth]] for depth in range(len(one.levels) + 1))
        )
        for one in areas
    ]
    newest = max(areas, key=lambda one: one.as_of)
    items = [
        (number, item["code"], item["title"], item["packages_per_case"])
        for number, item in enumerate(newest.terms["items"], 1)
    ]
    con = engine.connect()
    try:
        with engine.enough_memory():
            region_sql.added_up(con, shares, newest.week, items)
            totals = region_sql.rows(con, "from measures.area order by as_of")
            of_items = region_sql.rows(con, "from measures.item_totals order by as_of, item_no")
            orders = region_sql.rows(con, engine.sql(region_sql.STAGE, "_orders"))
            exceptions = region_sql.rows(con, engine.sql(region_sql.STAGE, "_exceptions"))
    finally:
        con.close()
    made = Sums(
        newest.as_of, newest.week, tuple(areas), tuple(groups), tuple(totals), tuple(of_items), tuple(orders),
        tuple(exceptions), (),
    )  # fmt: skip
    return Sums(**{**_fields(made), "compared": tuple(_compared(made))})


def _fields(sums: Sums) -> dict[str, Any]:
    return {name: getattr(sums, name) for name in Sums.__slots__}


def _order(levels: Levels) -> tuple[int, Levels]:
    return len(levels), levels


def _compared(sums: Sums) -> list[Row]:
    """Each group beside the others of its level: the share taking part, and the average of those who do."""
    levels = [REGION, *sums.names()]
    asked = []
    for row in sums.totals:
        same: dict[str, Any] = {
            "as_of": region_sql.day_of(levels.index(sums.level(row["group"]))), "troop": str(row["group"]), "level": "",
        }  # fmt: skip
        some, of = row["registered_taking_part"], row["registered"]
        if of:
            asked.append(same | {"measure": "share", "some": some, "of": of, "average": None})
        if row["taking_part"]:
            average = row["average_per_active"]
            asked.append(same | {"measure": "average", "some": None, "of": row["taking_part"], "average": average})
    if not asked:
        return []
    found = comparisons(pa.Table.from_pylist(asked)).to_pylist()
    value = {(row["troop"], row["measure"]): row for row in asked}
    listed = []
    for row in found:
        own = value[row["troop"], row["measure"]]
        shown = own["average"] if own["average"] is not None else own["some"] / own["of"]
        listed.append({"group": int(row["troop"]), "value": shown, **row})
    return sorted(listed, key=lambda row: (row["group"], row["measure"]))
