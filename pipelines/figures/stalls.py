"""The stalls' calendar as a viewer may see it: slots, swaps that wait, how the stalls of a place did.

Comes in: a snapshot's connection and a viewer, by `Figures.stalls`. Goes out: rows as dicts. A leader sees every slot
and that it is taken, and of the troops that have them only her own.
"""

from datetime import date
from typing import Any

from pipelines.figures.viewer import Viewer
from pipelines.store import engine
from pipelines.store.engine import Connection


class Stalls:
    """The slots of one published state of a book, for one viewer. Each call has a cursor of its own."""

    def __init__(self, con: Connection, viewer: Viewer) -> None:
        self._con = con
        self.viewer = viewer

    def calendar(self, as_of: date) -> list[dict[str, Any]]:
        """Every slot with its place, hours and state; whose it is only where it is the viewer's own: `is_taken` else.

        A slot that was given back names nobody to other leaders either.
        """
        whose, values = (
            ("troop", [])
            if self.viewer.troops is None
            else ("case when list_contains(?::varchar[], troop) then troop end", [sorted(self.viewer.troops)])
        )
        if self.viewer.sees_area and not self.viewer.troops:
            whose, values = "null::varchar", []
        query = (
            f"select * exclude (file_no, sheet, row_no, words) replace ({whose} as troop), state = 'given' as is_taken "
            "from measures.calendar where as_of = ? order by date, start, place, slot"
        )
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, [*values, as_of])

    def places(self) -> list[dict[str, Any]]:
        """The places of the list: place, title, town, from_on, until_on, prime."""
        with self._con.cursor() as cursor:
            query = "select * exclude (file_no, unit_no, sheet, row_no) from accepted.places order by place"
            return engine.rows(cursor, query)

    def places_before(self) -> list[dict[str, Any]]:
        """How places did in the season before; told only to the coordinator."""
        if self.viewer.troops is not None:
            return []
        query = "select * exclude (file_no, unit_no, sheet, row_no) from accepted.places_before order by place"
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query)

    def swaps(self, as_of: date) -> list[dict[str, Any]]:
        """Swaps that wait for an answer: of a leader those that she asked for or is asked for; nobody else is named."""
        query = """
            select a.entry_no, a.about, a.other, a.words, a.as_of,
                {asker} as asker, {asked} as asked,
                o.title as about_title, o.date as about_date, o.start as about_start, c.title as other_title,
                c.date as other_date, c.start as other_start
            from accepted.agreements a
            join measures.calendar o on o.slot = a.about and o.as_of = ? and o.troop = a.troop and o.state = 'given'
            join measures.calendar c on c.slot = a.other and c.as_of = o.as_of and c.state = 'given'
            anti join accepted.agreements b on b.refers_to = a.entry_no and b.kind in ('agree', 'decline')
            where a.kind = 'swap' and {mine}
            order by a.entry_no
        """
        if self.viewer.troops is None:
            query, values = query.format(asker="a.troop", asked="c.troop", mine="true"), list[Any]()
        else:
            own = sorted(self.viewer.troops)
            is_own = "list_contains(?::varchar[], {}.troop)"
            query = query.format(
                asker=f"case when {is_own.format('a')} then a.troop end",
                asked=f"case when {is_own.format('c')} then c.troop end",
                mine=f"({is_own.format('a')} or {is_own.format('c')})",
            )
            values = [own]
        with self._con.cursor() as cursor:
            bound = [as_of] if not values else [values[0], values[0], as_of, values[0], values[0]]
            return engine.rows(cursor, query, bound)

    def stall_hours(self, as_of: date) -> list[dict[str, Any]]:
        """The stalls whose hours are known, at which places, without who stood there; told only to the coordinator."""
        if self.viewer.troops is not None:
            return []
        query = (
            "select place, part_of_day, packages_an_hour, takings_an_hour from facts.stall_hours "
            "where week_ending <= ? and hours is not null order by place, part_of_day, takings_an_hour"
        )
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, [as_of])
