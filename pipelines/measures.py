"""The readers' only door to figures: every screen and paper asks here, on behalf of a viewer.

Comes in: a snapshot's connection, a viewer, a day. Goes out: rows and Arrow tables of the troops that the viewer may see.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

import pyarrow as pa

from pipelines import warehouse
from pipelines.warehouse import Connection

Relation = Literal["standing", "items", "families", "dues"]
SORTED_BY: dict[Relation, str] = {
    "standing": "troop",
    "items": "troop, item",
    "families": "troop, participant",
    "dues": "troop, due_on",
}


@dataclass(frozen=True, slots=True)
class Viewer:
    """Who asks: `troops` is None for somebody who may see the whole area."""

    name: str
    troops: frozenset[str] | None = None

    def may_see(self, troop: str) -> bool:
        """Whether this viewer may see a troop's figures."""
        return self.troops is None or troop in self.troops


COORDINATOR = Viewer("coordinator")


class Figures:
    """The figures of one published state of a book, for one viewer. Thread-safe: each call has a cursor of its own."""

    def __init__(self, con: Connection, viewer: Viewer) -> None:
        self._con = con
        self.viewer = viewer

    def days(self) -> list[date]:
        """The days that figures are published for, oldest first."""
        with self._con.cursor() as cursor:
            return [row[0] for row in cursor.execute("select as_of from chosen.days order by as_of").fetchall()]

    def frame(self, relation: Relation, as_of: date | None = None, troop: str | None = None) -> pa.Table:
        """A relation of measures, sorted by its leading columns; money as decimal128(12, 2), shares as float64.

        `as_of` None: all published days. Rows of troops that the viewer may not see are never read.
        """
        query, values = self._select(relation, as_of, troop)
        with self._con.cursor() as cursor:
            return cursor.sql(query, params=values).to_arrow_table()

    def rows(self, relation: Relation, as_of: date | None = None, troop: str | None = None) -> list[dict[str, Any]]:
        """The same as `frame`, as dicts."""
        query, values = self._select(relation, as_of, troop)
        with self._con.cursor() as cursor:
            return warehouse.rows(cursor, query, values)

    def _select(self, relation: Relation, as_of: date | None, troop: str | None) -> tuple[str, Sequence[Any]]:
        by = SORTED_BY[relation]
        where, values = ["true"], list[Any]()
        if self.viewer.troops is not None:
            where.append("list_contains(?::varchar[], troop)")
            values.append(sorted(self.viewer.troops))
        if as_of is not None:
            where.append("as_of = ?")
            values.append(as_of)
        if troop is not None:
            where.append("troop = ?")
            values.append(troop)
        return f"select * from measures.{relation} where {' and '.join(where)} order by as_of, {by}", values
