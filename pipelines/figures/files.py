"""What landed, as a viewer may see it: files, what is held, what was found in them, where their columns stand.

Comes in: a snapshot's connection and a viewer, by `Figures.files`. Goes out: rows as dicts. A file may tell of troops
that the viewer may not see: then its name and sender are hidden, or nothing is told of it.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from pipelines.figures.viewer import Viewer, allowed
from pipelines.store import engine
from pipelines.store.engine import Connection

HIDDEN_FILE = "a file of the area"  # in place of a file's name where it tells of troops that the viewer may not see


def name_shown(viewer: Viewer) -> str:
    """The name and sender of the file `r`, hidden where it tells of a troop that the viewer may not see."""
    if viewer.troops is None:
        return "r.name as name"
    hidden = (
        "coalesce((select bool_or(not coalesce(list_contains(?::varchar[], o.troop), false)) from landed.units o "
        "where o.file_no = r.file_no), (select f.what <> 'season' from landed.files f where f.file_no = r.file_no))"
    )
    return (
        f"case when {hidden} then '{HIDDEN_FILE}' else r.name end as name, "
        f"case when {hidden} then '' else r.sender end as sender"
    )


def seen_values(viewer: Viewer) -> list[Any]:
    """The values that `name_shown` takes."""
    return [] if viewer.troops is None else [sorted(viewer.troops)] * 2


class Files:
    """The landed files of one published state of a book, for one viewer. Each call has a cursor of its own."""

    def __init__(self, con: Connection, viewer: Viewer) -> None:
        self._con = con
        self.viewer = viewer

    def landed(self) -> list[dict[str, Any]]:
        """Every file landed by the known-on time, in that order, with its rows counted and held; of the whole area.

        A viewer who may see some troops only is told of none: a file may hold other troops' rows.
        """
        if self.viewer.troops is not None:
            return []
        query = """
            with units as (
                select u.*, u.accepted_at is null or u.accepted_at > k.known_on as is_held
                from landed.units u
                cross join chosen.known k
            ),
            judged as (  -- what is held and was sent again and accepted later is held no more
                select h.*, h.is_held and not exists (
                    select 1 from units n where not n.is_held and n.file_no > h.file_no
                        and n.troop = h.troop and n.week_ending = h.week_ending) as still_held
                from units h
            )
            select f.file_no, f.name, f.sha256, f.size_bytes, f.landed_at, f.what,
                coalesce(sum(u.rows_read) filter (not u.is_held), 0)::bigint as rows_counted,
                coalesce(sum(u.rows_read) filter (u.is_held), 0)::bigint as rows_held,
                count(u.unit_no) filter (u.still_held) as units_held,
                min(u.week_ending) filter (u.still_held) as held_from,
                exists (from landed.dismissals d where d.file_no = f.file_no and d.written_at <= k.known_on)
                    as is_dismissed
            from landed.files f
            cross join chosen.known k
            left join judged u on u.file_no = f.file_no
            where f.landed_at <= k.known_on
            group by f.file_no, f.name, f.sha256, f.size_bytes, f.landed_at, f.what, k.known_on
            order by f.file_no
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query)

    def moments(self) -> list[dict[str, Any]]:
        """When files landed by the known-on time, the newest first: at (UTC), files; told only to the coordinator."""
        if self.viewer.troops is not None:
            return []
        query = """
            select f.landed_at as at, count(*)::bigint as files
            from landed.files f
            cross join chosen.known k
            where f.landed_at <= k.known_on
            group by f.landed_at
            order by f.landed_at desc
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query)

    def known_at(self) -> datetime | None:
        """When the newest file behind the figures landed (UTC); None in an empty book."""
        with self._con.cursor() as cursor:
            query = "select max(landed_at) as at from landed.files f, chosen.known k where f.landed_at <= k.known_on"
            return engine.rows(cursor, query)[0]["at"]  # type: ignore[no-any-return]

    def season(self) -> tuple[int, str]:
        """The number and name of the season.toml that the figures go by; 0 where none had landed."""
        query = """
            select file_no, name from landed.files where file_no = (
                select coalesce(max(file_no) filter (landed_at <= known_on), min(file_no))
                from landed.files, chosen.known where what = 'season')
        """
        with self._con.cursor() as cursor:
            found = cursor.execute(query).fetchall()
        return found[0] if found else (0, "season.toml")

    def places(self, file_nos: Iterable[int]) -> list[dict[str, Any]]:
        """Where the columns of files stand: landed.cell_places."""
        query = "select * from landed.cell_places where list_contains(?::integer[], file_no)"
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, [sorted(file_nos)])

    def landings(self, file_nos: Iterable[int]) -> dict[int, dict[str, Any]]:
        """When files landed, and their names as the viewer may see them: name, landed_at, by number."""
        query = f"""
            select file_no, landed_at, {name_shown(self.viewer)}
            from landed.files r where list_contains(?::integer[], file_no)
        """
        with self._con.cursor() as cursor:
            found = engine.rows(cursor, query, [*seen_values(self.viewer), sorted(file_nos)])
        return {row["file_no"]: row for row in found}

    def names(self, file_nos: Iterable[int]) -> dict[int, str]:
        """The names of files, hidden where one tells of a troop that the viewer may not see."""
        return {file_no: row["name"] for file_no, row in self.landings(file_nos).items()}

    def held(self) -> list[dict[str, Any]]:
        """What is held by the known-on time: one row a file and unit, with troop and week where known; newest first.

        `is_replaced`: a file that came later took its place, so that nothing is left to mend.
        """
        where, values = allowed(self.viewer)
        values = [*seen_values(self.viewer), *values]
        query = f"""
            with files as (
                select r.* replace ({name_shown(self.viewer)}), k.known_on
                from landed.files r
                join chosen.known k on r.landed_at <= k.known_on
            )
            select u.file_no, f.name, f.landed_at, f.sender, f.what, u.unit, u.troop, u.week_ending,
                list(distinct u.table_name order by u.table_name) as tables,
                sum(u.rows_read)::bigint as rows_held, sum(u.packages)::bigint as packages_held,
                sum(u.dollars)::decimal(18, 2) as dollars_held,
                bool_and(exists (
                    from landed.units n
                    where n.accepted_at <= f.known_on and n.file_no > u.file_no and n.table_name = u.table_name
                        and n.troop is not distinct from u.troop and n.week_ending is not distinct from u.week_ending
                        and (n.unit = u.unit or u.week_ending is not null)
                )) as is_replaced
            from landed.units u
            join files f on f.file_no = u.file_no
            where (u.accepted_at is null or u.accepted_at > f.known_on) and {where}
            group by u.file_no, f.name, f.landed_at, f.sender, f.what, u.unit, u.troop, u.week_ending
            order by u.file_no desc, u.unit
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, values)

    def unread(self) -> list[dict[str, Any]]:
        """Files that nobody could read as a table and that were not dismissed, newest first; coordinator only."""
        if self.viewer.troops is not None:
            return []
        query = """
            select f.file_no, f.name, f.landed_at, f.sender, f.size_bytes, f.sha256, f.what
            from landed.files f
            join chosen.known k on f.landed_at <= k.known_on
            where f.what in ('unknown', 'foreign')
                and not exists (from landed.units u where u.file_no = f.file_no)
                and not exists (from landed.dismissals d where d.file_no = f.file_no and d.written_at <= k.known_on)
            order by f.file_no desc
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query)

    def one(self, file_no: int, unit: str = "") -> dict[str, Any] | None:
        """A landed file's name, sha256, landed_at, what; of its unit troop and week_ending, None where not one alone.

        None where there is no such file, or the viewer may not see every troop that it tells of.
        """
        where, values = allowed(self.viewer)
        query = f"""
            select f.file_no, f.name, f.sha256, f.landed_at, f.what,
                (select case when count(distinct u.troop) = 1 then min(u.troop) end from landed.units u
                where u.file_no = f.file_no and u.unit = ?) as troop,
                (select case when count(distinct u.week_ending) = 1 then min(u.week_ending) end from landed.units u
                where u.file_no = f.file_no and u.unit = ?) as week_ending
            from landed.files f
            where f.file_no = ? and f.what not in ('season', 'mapping', 'answer') and (? or (
                exists (select 1 from landed.units o where o.file_no = f.file_no) and not exists (
                select 1 from landed.units u where u.file_no = f.file_no and not coalesce({where}, false))))
        """
        values = [unit, unit, file_no, self.viewer.troops is None, *values]
        with self._con.cursor() as cursor:
            return next(iter(engine.rows(cursor, query, values)), None)

    def findings(self, file_no: int, unit: str = "") -> list[dict[str, Any]]:
        """What is open to mend or to know by the known-on time in a file's unit, and in the file as a whole, as found.

        Nothing where the viewer may not see every troop that the file tells of.
        """
        where, values = allowed(self.viewer)
        query = f"""
            with numbered as (
                select row_number() over () as place, *
                from landed.findings
                where file_no = ? and unit in (?, '')
            )
            select table_name, unit, sheet, cell, found, expected, how, is_note
            from numbered f
            join chosen.known k on f.found_at <= k.known_on and (f.ended_at is null or f.ended_at > k.known_on)
            where not exists (
                select 1 from landed.units u where u.file_no = f.file_no and not coalesce({where}, false))
                and (? or exists (select 1 from landed.units o where o.file_no = f.file_no))
            order by is_note, place
        """
        values = [*values, self.viewer.troops is None]  # a file that tells of no troop is the coordinator's
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, [file_no, unit, *values])
