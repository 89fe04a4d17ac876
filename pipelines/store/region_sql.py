"""What an area hands up to its region, and the SQL that adds areas up: the very files by which an area adds its troops.

Comes in: a computed warehouse; or folders of Parquet that areas handed up. Goes out: selects; a warehouse in memory in
which the area's relations hold one row for each group of areas.

The area's SQL makes one row of sums for each as_of. In a region each group of areas (the region, a council, an area)
is given a day of its own in its place, and each area's rows stand under the day of every group that it is part of.
A troop's code may stand in several areas, so a troop is named by its area and its code.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from pipelines.store import engine, measure_sql
from pipelines.store.engine import SQL, Connection
from pipelines.store.relations import REFERENCE, ordered_relations

FORMAT = 1  # of what is handed up; a table or a column more makes the next
STAGE = "8_region"
PLACE = "tables/region"
TABLES = tuple(sorted(path.stem for path in (SQL / STAGE).glob("[!_]*.sql")))
SUMS = ("measures.area_sums", "measures.area", "measures.item_total_sums", "measures.item_totals")
FIRST = date(1000, 1, 1)  # the first group's day; no season lies near it
COLUMNS = {"troops": "area", "items": "item_totals"}  # tables whose columns follow from what an area adds up
KEYS = {"troop", "item", "price", "is_stocked"}


@dataclass(frozen=True, slots=True)
class Share:
    """What one area handed up: its folder, the day of it that counts, the numbers of the groups that it is part of."""

    folder: Path
    as_of: date
    groups: tuple[int, ...]


def handed_up(name: str) -> str:
    """The select of one table that is handed up."""
    text = engine.sql(STAGE, name)
    if relation := COLUMNS.get(name):
        columns = (one for one in measure_sql.added_up(relation) if one not in KEYS)
        return text.format(columns=", ".join(columns))
    return text


def rests_on() -> frozenset[str]:
    """The relations that the tables handed up are selected from."""
    named = {f"{stage}.{name}" for table in TABLES for stage, name in REFERENCE.findall(handed_up(table))}
    return frozenset(named)


def added_up(
    con: Connection, shares: Sequence[Share], week_no: int, items: Sequence[tuple[int, str, str, int]]
) -> None:
    """Makes measures.area and measures.item_totals of groups of areas, with all that they rest on, and handed.*.

    `items`: number, code, title and packages in a case of each item of the season. Raises a Fault where a table of an
    area lacks a column.
    """
    for schema in ("handed", "chosen", "measures", "season"):
        con.execute(f"create schema {schema}")
    con.execute("create table handed.areas (area_no integer, folder varchar, own_day date)")
    engine.insert(con, "handed.areas", [(no, str(one.folder), one.as_of) for no, one in enumerate(shares)])
    con.execute("create table chosen.groups (area_no integer, as_of date)")
    placed = [(no, day_of(group)) for no, one in enumerate(shares) for group in one.groups]
    engine.insert(con, "chosen.groups", placed)
    con.execute("create table season.items (item_no integer, code varchar, title varchar, packages_per_case integer)")
    engine.insert(con, "season.items", items)
    for name in TABLES:
        files = [f"{one.folder}/{PLACE}/{name}.parquet" for one in shares]
        con.execute(
            f"create table handed.{name} as select a.area_no, t.* exclude (filename) "
            "from read_parquet(?, filename = true) t "
            f"join handed.areas a on t.filename = a.folder || '/{PLACE}/{name}.parquet' and t.as_of = a.own_day",
            [files],
        )
    con.execute(engine.sql(STAGE, "_groups").format(week_no=int(week_no)))
    selects = dict(ordered_relations())
    for name in SUMS:
        con.execute(f"create table {name} as {selects[name]}")


def day_of(group: int) -> date:
    """The day that stands for a group of areas."""
    return FIRST + timedelta(days=group)


def rows(con: Connection, query: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
    """Rows of a query, `as_of` turned into the number of the group that it stands for."""
    found = engine.rows(con, query, values)
    return [{"group": (row.pop("as_of") - FIRST).days, **row} for row in found]
