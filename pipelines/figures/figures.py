"""The readers' only door to figures: every screen and paper asks here, on behalf of a viewer.

Comes in: a snapshot's connection, a viewer, a day. Goes out: rows and Arrow tables of the troops the viewer may see;
`files`: what landed.

The one place where a role is enforced for reading: each query is limited to the viewer's troops. comparisons,
exceptions, follow-ups and lists of files are the coordinator's.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any, Literal

import pyarrow as pa

from pipelines.figures.files import Files, name_shown, seen_values
from pipelines.figures.quartiles import STEPS, Compared, Quartiles, quartiles
from pipelines.figures.stalls import Stalls
from pipelines.figures.viewer import Viewer, allowed, allowed_area
from pipelines.store import engine, region_sql
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
    "plan",
    "opening",
    "opening_terms",
    "outlook_held",
    "plan_cells",
    "plan_terms",
    "recent_sales",
    "bank",
    "closing",
    "closing_points",
    "debts",
    "dues_seen",
    "place_yields",
    "progress",
    "troop_goals",
    "credit",
    "stall_shares",
    "awards",
    "to_buy",
    "packing",
    "postage",
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
    "opening": "troop",
    "opening_terms": "troop, item",
    "outlook_held": "span, level, week",
    "plan": "kind desc, drive, giver, troop, item",
    "plan_cells": "troop, item",
    "plan_terms": "troop, item",
    "recent_sales": "troop, item",
    "bank": "troop, line, date, answers",
    "place_yields": "place, part_of_day",
    "closing": "troop",
    "closing_points": "troop, place",
    "debts": "troop, participant, entry_no",
    "dues_seen": "troop, due_on",
    "progress": "troop, participant",
    "troop_goals": "troop",
    "credit": "troop, participant, date, start, place",
    "stall_shares": "troop, week_ending, date, start, place, participant",
    "awards": "troop, participant, award_no",
    "to_buy": "troop nulls last, award_no",
    "packing": "troop, participant, placed_on nulls last, order_no, item",
    "postage": "troop, order_no",
    "exceptions": "rule, troop, subject",
    "against_the_world": "troop, about, item",
}

STANDS_IN = {
    "closing": "follow_up.closing",
    "closing_points": "follow_up.closing_points",
    "debts": "follow_up.debts",
    "exceptions": "follow_up.exceptions",
    "against_the_world": "ledger.against_the_world",
}  # relations of another stage than measures

OF_THE_AREA = ("area", "item_totals", "outlook_held", "place_yields")  # sums over all troops: of who may see the area

OF_THE_COORDINATOR = (
    "comparisons",
    "exceptions",
    "opening",
    "opening_terms",
    "plan",
    "plan_cells",
    "plan_terms",
    "place_yields",
    "postage",
)  # rows that tell of other troops, or what somebody wrote down

NAMES_FILES = ("versions", "sources")

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
    "wishes",
    "awards_before",
    "promised",
    "awards",
    "orders_to_answer",
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
    "wishes": ("facts.wishes", "troop, rank"),
    "awards_before": ("accepted.awards_before", "troop, participant, award"),
    "goals": ("accepted.goals", "troop, participant, week_ending"),
    "promised": ("accepted.promised", "troop, week_ending, participant, row_no, item"),
    "awards": ("accepted.awards", "troop, week_ending, participant, award"),
    "orders_to_answer": ("facts.orders_to_answer", "troop, placed_on, order_no"),
    "versions": ("measures.versions", "troop, week_ending, file_no desc"),
    "sources": ("measures.sources", "troop, file_no, table_name"),
}

Evident = Literal[
    "entries", "counts", "collections", "remittances", "stalls", "cover", "roster", "stock", "submitted", "troops",
    "postings", "measured", "statement_lines", "families", "goals", "pages", "order_spans", "last_season", "stall_work",
    "promised", "stall_credit", "awards", "online_orders",
]  # fmt: skip

PLACE = "file_no, sheet, row_no"

EVIDENT: dict[
    Evident, tuple[str, str, str]
] = {  # what figures rest on: relation, day a row counts from, order of a day
    "entries": ("facts.entries", "on_day", PLACE),
    "counts": ("ledger.counts", "on_day", PLACE),
    "collections": ("accepted.collections", "announced_on", PLACE),
    "remittances": ("facts.remittance_spans", "from_on", PLACE),
    "stalls": ("accepted.stalls", "week_ending", PLACE),
    "stall_work": ("facts.stall_work", "week_ending", f"{PLACE}, participant"),
    "cover": ("accepted.cover", "week_ending", PLACE),
    "roster": ("accepted.roster", "registered_on", PLACE),
    "stock": ("accepted.stock", "week_ending", PLACE),
    "submitted": ("facts.submitted", "week_ending", "unit_no"),
    "troops": ("accepted.troops", "date '2000-01-01'", PLACE),  # whatever the day
    "families": ("accepted.families", "week_ending", PLACE),
    "goals": ("accepted.goals", "week_ending", PLACE),
    "pages": ("accepted.pages", '"on"', PLACE),
    "promised": ("accepted.promised", "week_ending", PLACE),
    "awards": ("accepted.awards", "week_ending", PLACE),
    "online_orders": ("accepted.online_orders", "placed_on", PLACE),
    "stall_credit": ("facts.stall_credit", "week_ending", f"{PLACE}, participant"),
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
        self.files = Files(con, viewer)
        self.stalls = Stalls(con, viewer)

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
        values: list[Any]
        if relation in OF_THE_COORDINATOR and self.viewer.troops is not None:
            where, values = "false", []
        elif relation in OF_THE_AREA:
            where, values = allowed_area(self.viewer)
        else:
            where, values = allowed(self.viewer, troop)
        if as_of is not None:
            where += " and as_of = ?"
            values.append(as_of)
        source = STANDS_IN.get(relation, f"measures.{relation}")
        return f"select * from {source} where {where} order by as_of, {SORTED_BY[relation]}", values

    def facts(self, fact: Fact, troop: str | None = None) -> list[dict[str, Any]]:
        """What is known whatever the day, such as a troop's leader or the weeks submitted: rows as dicts, sorted."""
        relation, by = FACTS[fact]
        where, values = allowed(self.viewer, troop)
        shown = "*"
        if fact in NAMES_FILES:
            shown, values = f"* replace ({name_shown(self.viewer)})", [*seen_values(self.viewer), *values]
        with self._con.cursor() as cursor:
            return engine.rows(cursor, f"select {shown} from {relation} r where {where} order by {by}", values)

    def follow_ups(self, troop: str | None = None) -> list[dict[str, Any]]:
        """What was written down about exceptions by the known-on time, oldest first; told only to the coordinator."""
        if self.viewer.troops is not None:
            return []
        where, values = allowed(self.viewer, troop)
        with self._con.cursor() as cursor:
            return engine.rows(cursor, f"select * from accepted.follow_ups where {where} order by entry_no", values)

    def troops_with_slips(self, rules: Sequence[str], file_nos: Sequence[int], as_of: date) -> list[str]:
        """The troop of each open exception of some rules that rests on cells of some files, as of a day, in order."""
        where, values = allowed(self.viewer, None) if self.viewer.troops is None else ("false", [])
        query = (
            f"select troop from follow_up.listed where {where} and as_of = ? and state = 'open' "
            "and list_contains(?::varchar[], rule) "
            "and len(list_filter(evidence, lambda piece: list_contains(?::integer[], piece.file_no))) > 0 "
            "order by troop"
        )
        with self._con.cursor() as cursor:
            done = cursor.execute(query, [*values, as_of, list(rules), list(file_nos)]).fetchall()
        return [row[0] for row in done]

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

    def season_awards(self) -> list[dict[str, Any]]:
        """The season's awards, in its own order: code, title, steps, packages, levels, after, near, cost, in_stock."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from season.awards order by award_no")

    def season_postage(self) -> list[dict[str, Any]]:
        """The tiers of postage, the smallest first: up_to, price."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from season.postage order by up_to")

    def season_dues(self) -> list[dict[str, Any]]:
        """The season's own due dates, in order: due_no, due_on, share, cutoff_on."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from season.dues order by due_no")

    def vehicles(self) -> dict[str, int]:
        """How many cases each vehicle carries on the day of delivery; told only to the coordinator."""
        if self.viewer.troops is not None:
            return {}
        with self._con.cursor() as cursor:
            rows = engine.rows(cursor, "select vehicle, cases from accepted.vehicles order by vehicle")
        return {row["vehicle"]: row["cases"] for row in rows}

    def accounts(self) -> list[dict[str, Any]]:
        """The chart of accounts, in its order: account_no, account, root, title."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from ledger.accounts order by account_no")

    def kinds(self) -> list[dict[str, Any]]:
        """The kinds of events: kind, debit, credit, packages_sold, what."""
        with self._con.cursor() as cursor:
            return engine.rows(cursor, "select * from ledger.kinds order by kind")

    def evidence(self, evident: Evident, troop: str | None, as_of: date) -> pa.Table:
        """The rows that figures of a day rest on, of one troop or of all, each of a day up to it, in its own order."""
        relation, day, order = EVIDENT[evident]
        where, values = allowed(self.viewer, troop)
        query = f"select * from {relation} where {where} and {day} <= ? order by {day}, {order}"
        with self._con.cursor() as cursor:
            return cursor.sql(query, params=[*values, as_of]).to_arrow_table()

    def handed_up(self, name: str, as_of: date) -> pa.Table:
        """A table that the area hands up to its region, of the published weeks up to a day: see store/region_sql.py."""
        where, values = allowed_area(self.viewer)
        query = f"select * from ({region_sql.handed_up(name)}) where {where} and as_of <= ?"
        with self._con.cursor() as cursor:
            return cursor.sql(query, params=[*values, as_of]).to_arrow_table()

    def pace(self) -> list[dict[str, Any]]:
        """Packages sold up to each week's number, this season and last, of the whole area: measures.pace."""
        where, values = allowed_area(self.viewer)
        with self._con.cursor() as cursor:
            return engine.rows(cursor, f"select * from measures.pace where {where} order by week_no", values)

    def quartiles(self, as_of: date) -> dict[Compared, Quartiles]:
        """Coarse quartiles of rates and averages of the troops that the viewer may not see, where they may be shown."""
        columns = ", ".join(STEPS)
        own = sorted(self.viewer.troops or ())
        query = f"select {columns} from measures.standing where as_of = ? and not list_contains(?::varchar[], troop)"
        with self._con.cursor() as cursor:
            others = engine.rows(cursor, query, [as_of, own])
        found = {name: quartiles([row[name] for row in others], step) for name, step in STEPS.items()}
        return {name: one for name, one in found.items() if one}
