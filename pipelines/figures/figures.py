"""The readers' only door to figures: every screen and paper asks here, on behalf of a viewer.

Comes in: a snapshot's connection, a viewer, a day. Goes out: rows and Arrow tables of the troops the viewer may see.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, Literal

import pyarrow as pa

from pipelines.figures.quartiles import STEPS, Compared, Quartiles, quartiles
from pipelines.figures.viewer import Viewer
from pipelines.store import engine
from pipelines.store.engine import Connection

Relation = Literal[
    "standing",
    "items",
    "families",
    "dues",
    "participants",
    "steps",
    "last_season",
    "submissions",
    "area",
    "item_totals",
    "comparisons",
    "against_the_world",
    "posted_orders",
    "outlook",
    "recent_sales",
    "exceptions",
]

SORTED_BY: dict[Relation, str] = {
    "standing": "troop",
    "items": "troop, item",
    "families": "troop, participant",
    "dues": "troop, due_on",
    "participants": "troop, participant",
    "steps": "troop",
    "last_season": "troop",
    "submissions": "troop",
    "area": "week_no",
    "item_totals": "item_no",
    "comparisons": "troop, measure",
    "posted_orders": 'troop, "order"',
    "outlook": "troop nulls last, item nulls last",
    "recent_sales": "troop, item",
    "exceptions": "rule, troop, subject",
    "against_the_world": "troop, about, item",
}

STANDS_IN = {
    "exceptions": "follow_up.exceptions",
    "against_the_world": "ledger.against_the_world",
}  # relations of another stage than measures

OF_THE_AREA = ("area", "item_totals")  # sums over all troops: only for somebody who may see the area

OF_THE_COORDINATOR = ("comparisons", "exceptions")  # rows that tell of other troops, or what was written down

NAMES_FILES = ("versions", "sources")

HIDDEN_FILE = "a file of the area"  # in place of a file's name where it tells of troops that the viewer may not see

Fact = Literal[
    "troops",
    "submitted",
    "roster",
    "supply",
    "cover",
    "stock",
    "goals",
    "versions",
    "sources",
    "families",
    "stalls",
    "banked",
    "moves",
]

FACTS: dict[Fact, tuple[str, str]] = {  # what has no as-of day: its relation, and what it is sorted by
    "troops": ("facts.troops", "troop"),
    "submitted": ("facts.submitted", "troop, week_ending"),
    "roster": ("accepted.roster", "troop, participant"),
    "supply": ("accepted.supply", "troop, date, document, item, kind"),
    "cover": ("accepted.cover", "troop, week_ending"),
    "stock": ("accepted.stock", "troop, week_ending, item"),
    "families": ("accepted.families", "troop, week_ending, participant, row_no, item"),
    "stalls": ("accepted.stalls", "troop, week_ending, date, start, place, row_no, item"),
    "banked": ("accepted.banked", "troop, week_ending, row_no"),
    "moves": ("accepted.moves", "troop, week_ending, row_no"),
    "goals": ("accepted.goals", "troop, participant, week_ending"),
    "versions": ("measures.versions", "troop, week_ending, file_no desc"),
    "sources": ("measures.sources", "troop, file_no, table_name"),
}

Evident = Literal[
    "entries", "counts", "collections", "remittances", "stalls", "cover", "roster", "stock", "submitted", "troops",
    "postings", "measured", "statement_lines", "families", "goals", "pages", "order_spans", "last_season",
]  # fmt: skip

PLACE = "file_no, sheet, row_no"

EVIDENT: dict[
    Evident, tuple[str, str, str]
] = {  # what figures rest on: relation, day a row counts from, order of a day
    "entries": ("ledger.entries", "on_day", PLACE),
    "counts": ("ledger.counts", "on_day", PLACE),
    "collections": ("accepted.collections", "announced_on", PLACE),
    "remittances": ("facts.remittance_spans", "from_on", PLACE),
    "stalls": ("accepted.stalls", "week_ending", PLACE),
    "cover": ("accepted.cover", "week_ending", PLACE),
    "roster": ("accepted.roster", "registered_on", PLACE),
    "stock": ("accepted.stock", "week_ending", PLACE),
    "submitted": ("facts.submitted", "week_ending", "unit_no"),
    "troops": ("accepted.troops", "date '2000-01-01'", PLACE),  # whatever the day
    "families": ("accepted.families", "week_ending", PLACE),
    "goals": ("accepted.goals", "week_ending", PLACE),
    "pages": ("accepted.pages", '"on"', PLACE),
    "order_spans": ("facts.order_spans", "from_on", PLACE),
    "last_season": ("accepted.last_season", "date '2000-01-01'", PLACE),  # whatever the day
    "postings": ("ledger.postings", "on_day", f"troop, {PLACE}, kind, account, item, participant, reference"),
    "measured": ("ledger.measured", "as_of", "troop, account, part"),
    "statement_lines": ("ledger.statement_lines", "on_day", "troop, party, kind, reference"),
}


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
            return engine.rows(cursor, query, values)

    def _select(self, relation: Relation, as_of: date | None, troop: str | None) -> tuple[str, Sequence[Any]]:
        if relation in OF_THE_AREA:
            where, values = self._allowed_area()
        elif relation in OF_THE_COORDINATOR and self.viewer.troops is not None:
            where, values = "false", []
        else:
            where, values = self._allowed(troop)
        if as_of is not None:
            where += " and as_of = ?"
            values.append(as_of)
        source = STANDS_IN.get(relation, f"measures.{relation}")
        return f"select * from {source} where {where} order by as_of, {SORTED_BY[relation]}", values

    def facts(self, fact: Fact, troop: str | None = None) -> list[dict[str, Any]]:
        """What is known whatever the day, such as a troop's leader or the weeks submitted: rows as dicts, sorted."""
        relation, by = FACTS[fact]
        where, values = self._allowed(troop)
        shown = "*"
        if fact in NAMES_FILES:
            shown, values = f"* replace ({self._names()})", [*self._seen(), *values]
        with self._con.cursor() as cursor:
            return engine.rows(cursor, f"select {shown} from {relation} r where {where} order by {by}", values)

    def follow_ups(self, troop: str | None = None) -> list[dict[str, Any]]:
        """What was written down about exceptions by the known-on time, oldest first; told only to the coordinator."""
        if self.viewer.troops is not None:
            return []
        where, values = self._allowed(troop)
        with self._con.cursor() as cursor:
            return engine.rows(cursor, f"select * from accepted.follow_ups where {where} order by entry_no", values)

    def files(self) -> list[dict[str, Any]]:
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
                min(u.week_ending) filter (u.still_held) as held_from
            from landed.files f
            cross join chosen.known k
            left join judged u on u.file_no = f.file_no
            where f.landed_at <= k.known_on
            group by f.file_no, f.name, f.sha256, f.size_bytes, f.landed_at, f.what
            order by f.file_no
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query)

    def rules(self) -> dict[str, Any]:
        """The season's rules that go with the figures: title, area, currency, its days and thresholds."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from season.rules")[0]

    def season_items(self) -> list[dict[str, Any]]:
        """The season's items in its own order: code, title, price, packages_per_case, is_stocked."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * exclude (item_no) from season.items order by item_no")

    def season_tiers(self) -> list[dict[str, Any]]:
        """The tiers of the proceeds, lowest first: tier_no, from_average, rate."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from season.tiers order by tier_no")

    def season_dues(self) -> list[dict[str, Any]]:
        """The season's own due dates, in order: due_no, due_on, share, cutoff_on."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from season.dues order by due_no")

    def accounts(self) -> list[dict[str, Any]]:
        """The chart of accounts, in its order: account_no, account, root, title."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from ledger.accounts order by account_no")

    def kinds(self) -> list[dict[str, Any]]:
        """The kinds of events: kind, debit, credit, packages_sold, what."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from ledger.kinds order by kind")

    def season_file(self) -> tuple[int, str]:
        """The number and name of the season.toml that the figures go by; 0 where none had landed."""
        query = """
            select file_no, name from landed.files where file_no = (
                select coalesce(max(file_no) filter (landed_at <= known_on), min(file_no))
                from landed.files, chosen.known where what = 'season')
        """
        with self._con.cursor() as cursor:
            found = cursor.execute(query).fetchall()
        return found[0] if found else (0, "season.toml")

    def evidence(self, evident: Evident, troop: str | None, as_of: date) -> pa.Table:
        """The rows that figures of a day rest on, of one troop or of all, each of a day up to it, in its own order."""
        relation, day, order = EVIDENT[evident]
        where, values = self._allowed(troop)
        query = f"select * from {relation} where {where} and {day} <= ? order by {day}, {order}"
        with self._con.cursor() as cursor:
            return cursor.sql(query, params=[*values, as_of]).to_arrow_table()

    def places(self, file_nos: Iterable[int]) -> list[dict[str, Any]]:
        """Where the columns of files stand: landed.places."""
        query = "select * from landed.places where list_contains(?::integer[], file_no)"
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, [sorted(file_nos)])

    def landings(self, file_nos: Iterable[int]) -> dict[int, dict[str, Any]]:
        """When files landed, and their names as the viewer may see them: name, landed_at, by number."""
        query = (
            f"select file_no, landed_at, {self._names()} from landed.files r where list_contains(?::integer[], file_no)"
        )
        with self._con.cursor() as cursor:
            found = engine.rows(cursor, query, [*self._seen(), sorted(file_nos)])
        return {row["file_no"]: row for row in found}

    def file_names(self, file_nos: Iterable[int]) -> dict[int, str]:
        """The names of files, hidden where one tells of a troop that the viewer may not see."""
        return {file_no: row["name"] for file_no, row in self.landings(file_nos).items()}

    def known_at(self) -> datetime | None:
        """When the newest file behind the figures landed (UTC); None in an empty book."""
        with self._con.cursor() as cursor:
            query = "select max(landed_at) as at from landed.files f, chosen.known k where f.landed_at <= k.known_on"
            return engine.rows(cursor, query)[0]["at"]  # type: ignore[no-any-return]

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

    def pace(self) -> list[dict[str, Any]]:
        """Packages sold up to each week's number, this season and last, of the whole area: measures.pace."""
        where, values = self._allowed_area()
        with self._con.cursor() as cursor:
            return engine.rows(cursor, f"select * from measures.pace where {where} order by week_no", values)

    def held(self) -> list[dict[str, Any]]:
        """What is held now: one row a file and unit, with troop and week where known; newest file first.

        `is_replaced`: a file that came later took its place, so that nothing is left to mend.
        """
        where, values = self._allowed(None)
        values = [*self._seen(), *values]
        query = f"""
            with files as (select r.* replace ({self._names()}) from landed.files r)
            select u.file_no, f.name, f.landed_at, f.sender, f.what, u.unit, u.troop, u.week_ending,
                list(distinct u.table_name order by u.table_name) as tables,
                sum(u.rows_read)::bigint as rows_held, sum(u.packages)::bigint as packages_held,
                sum(u.dollars)::decimal(18, 2) as dollars_held,
                bool_and(exists (
                    from landed.units n
                    where n.accepted_at is not null and n.file_no > u.file_no and n.table_name = u.table_name
                        and n.troop is not distinct from u.troop and n.week_ending is not distinct from u.week_ending
                        and (n.unit = u.unit or u.week_ending is not null)
                )) as is_replaced
            from landed.units u
            join files f on f.file_no = u.file_no
            where u.accepted_at is null and {where}
            group by u.file_no, f.name, f.landed_at, f.sender, f.what, u.unit, u.troop, u.week_ending
            order by u.file_no desc, u.unit
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, values)

    def unread(self) -> list[dict[str, Any]]:
        """Files that were not recognised or could not be read, newest first; told only to the coordinator."""
        if self.viewer.troops is not None:
            return []
        query = """
            select file_no, name, landed_at, sender, size_bytes, sha256, what from landed.files f
            where what in ('unknown', 'foreign')
                and not exists (from landed.units u where u.file_no = f.file_no)
            order by file_no desc
        """
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query)

    def file(self, file_no: int, unit: str = "") -> dict[str, Any] | None:
        """A landed file's name, sha256, landed_at, what; of its unit troop and week_ending, None where not one alone.

        None where there is no such file, or the viewer may not see every troop that it tells of.
        """
        where, values = self._allowed(None)
        query = f"""
            select f.file_no, f.name, f.sha256, f.landed_at, f.what,
                (select case when count(distinct u.troop) = 1 then min(u.troop) end from landed.units u
                where u.file_no = f.file_no and u.unit = ?) as troop,
                (select case when count(distinct u.week_ending) = 1 then min(u.week_ending) end from landed.units u
                where u.file_no = f.file_no and u.unit = ?) as week_ending
            from landed.files f
            where f.file_no = ? and f.what not in ('season', 'mapping') and (? or (
                exists (select 1 from landed.units o where o.file_no = f.file_no) and not exists (
                select 1 from landed.units u where u.file_no = f.file_no and not coalesce({where}, false))))
        """
        values = [unit, unit, file_no, self.viewer.troops is None, *values]
        with self._con.cursor() as cursor:
            return next(iter(engine.rows(cursor, query, values)), None)

    def findings(self, file_no: int, unit: str = "") -> list[dict[str, Any]]:
        """What is open to mend or to know in a file's unit, and in the file as a whole, in the order found.

        Nothing where the viewer may not see every troop that the file tells of.
        """
        where, values = self._allowed(None)
        query = f"""
            select table_name, unit, sheet, cell, found, expected, how, is_note from landed.findings
            where file_no = ? and unit in (?, '') and ended_at is null and not exists (
                select 1 from landed.units u where u.file_no = findings.file_no and not coalesce({where}, false))
                and (? or exists (select 1 from landed.units o where o.file_no = findings.file_no))
            order by is_note, rowid
        """
        values = [*values, self.viewer.troops is None]  # a file that tells of no troop is the coordinator's
        with self._con.cursor() as cursor:
            return engine.rows(cursor, query, [file_no, unit, *values])

    def quartiles(self, as_of: date) -> dict[Compared, Quartiles]:
        """Coarse quartiles of rates and averages of the troops that the viewer may not see, where they may be shown."""
        columns = ", ".join(STEPS)
        own = sorted(self.viewer.troops or ())
        query = f"select {columns} from measures.standing where as_of = ? and not list_contains(?::varchar[], troop)"
        with self._con.cursor() as cursor:
            others = engine.rows(cursor, query, [as_of, own])
        found = {name: quartiles([row[name] for row in others], step) for name, step in STEPS.items()}
        return {name: one for name, one in found.items() if one}

    def _allowed_area(self) -> tuple[str, list[Any]]:
        """The condition of a query whose rows are sums over all troops."""
        return ("true" if self.viewer.troops is None or self.viewer.sees_area else "false"), []

    def _names(self) -> str:
        """The name and sender of the file `r`, hidden where it tells of a troop that the viewer may not see."""
        if self.viewer.troops is None:
            return "r.name as name"
        hidden = (
            "coalesce((select bool_or(not coalesce(list_contains(?::varchar[], o.troop), false)) from landed.units o "
            "where o.file_no = r.file_no), (select f.what <> 'season' from landed.files f where f.file_no = r.file_no))"
        )
        return (
            f"case when {hidden} then '{HIDDEN_FILE}' else r.name end as name, "
            f"case when {hidden} then '' else r.sender end as sender"
        )

    def _seen(self) -> list[Any]:
        """The values that `_names` takes."""
        return [] if self.viewer.troops is None else [sorted(self.viewer.troops)] * 2

    def _allowed(self, troop: str | None) -> tuple[str, list[Any]]:
        """The condition that keeps a query to the troops the viewer may see, and its values."""
        where, values = ["true"], list[Any]()
        if self.viewer.troops is not None:
            where.append("list_contains(?::varchar[], troop)")
            values.append(sorted(self.viewer.troops))
        if troop is not None:
            where.append("troop = ?")
            values.append(troop)
        return " and ".join(where), values
