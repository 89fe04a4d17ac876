"""What a few troops' new weeks touch: which troops, and with whom they have to do.

Comes in: a book's warehouse and, beside it, the snapshot that was published before what has landed since. Goes out: the
troops whose figures can differ now, or that all of them may; the snapshot with what has landed since, computed.

A troop's figures come from its own rows and from those of whoever has to do with it: the other troop of a move, and
every troop in which one of its participants appears (on a roster, with a family's packages, at a stall). So what
landed touches its own troop and these, and to compute them their like is needed once more. Whatever is not of one troop
(a feed, the season, a mapping, what was agreed) touches all.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from graphlib import TopologicalSorter
from typing import NamedTuple

from pipelines.definitions.contract import TABLES
from pipelines.definitions.feeds import FEEDS
from pipelines.store import frozen, relations
from pipelines.store.engine import Connection
from pipelines.store.landed_tables import LANDED, naming_troops
from pipelines.store.relations import FOUND, Statistic

MANY = 100  # troops from which it pays to compute a few apart
SHARE = 10  # of so many troops at most one

PARTICIPANTS = {"participant": "{0}", "participants": "split_part(unnest({0}), ':', 1)"}  # minutes stand behind a colon


class Touched(NamedTuple):
    """Troops whose figures can differ, those whose rows are needed to compute them, and the units that changed."""

    troops: list[str]
    beside: list[str]
    units: list[int]


def few(con: Connection, shown: str, days: Sequence[date]) -> Touched | None:
    """The few troops that are touched by what has landed since the snapshot attached as `shown`; None: all may be."""
    all_of_them = con.execute(f"select count(*) from {shown}.facts.troops").fetchall()[0][0]
    published = f"select as_of from {shown}.chosen.days order by 1"
    if all_of_them < MANY or [row[0] for row in con.execute(published).fetchall()] != list(days):
        return None
    for name in ("agreements", "dismissals", "follow_ups"):
        newest = f"select max(entry_no) from {{}}landed.{name}"
        if con.execute(newest.format("")).fetchall() != con.execute(newest.format(f"{shown}.")).fetchall():
            return None
    changed = con.execute(
        f"select unit_no, table_name, troop, file_no from (from landed.units except from {shown}.landed.units)"
    ).fetchall()
    if not changed or any(troop is None or name in {one.name for one in FEEDS} for _no, name, troop, _file in changed):
        return None
    touched = {troop for _no, _name, troop, _file in changed} | _otherwise(con, shown)
    if None in touched:
        return None
    troops = linked(con, [one for one in touched if one])
    if len(troops) * SHARE > all_of_them:
        return None
    return Touched(troops, linked(con, troops), [no for no, _name, _troop, _file in changed])


def _otherwise(con: Connection, shown: str) -> set[str | None]:
    """The troops of files that are new or of which something else is found now; None among them: not of one troop."""
    found = con.execute(
        f"""
        with differing as (
            select file_no, what from (from landed.files except from {shown}.landed.files)
            union
            select file_no, '' from (from landed.findings except from {shown}.landed.findings)
            union
            select file_no, '' from (from {shown}.landed.findings except from landed.findings)
        ),
        gone as (
            from {shown}.landed.units s anti join landed.units u using (unit_no)
        )
        select u.troop
        from differing d
        left join landed.units u using (file_no)
        union all
        select null from differing where what not in ('', 'submission', 'bulk')
        union all
        select null from gone
        """
    ).fetchall()
    return {troop for (troop,) in found}


def linked(con: Connection, troops: Sequence[str]) -> list[str]:
    """Some troops and all with whom they have to do, by all rows that ever landed, in order."""
    appearing = " union ".join(
        f"select troop, {PARTICIPANTS[column.kind].format(column.name)} as participant from landed.{table.name}"
        for table in TABLES.values()
        for column in table.columns
        if column.kind in PARTICIPANTS
    )
    met = " union ".join(
        f"select {one} as troop, {other} as other from landed.{name}"
        for name in TABLES
        for one in naming_troops(name)
        for other in naming_troops(name)
        if one != other
    )
    found = con.execute(
        f"""
        with appearing as (
            from ({appearing}) where participant <> 'troop'
        )
        select distinct b.troop
        from appearing a
        join appearing b using (participant)
        where list_contains($troops, a.troop)
        union
        select other from ({met}) where list_contains($troops, troop)
        """,
        {"troops": list(troops)},
    ).fetchall()
    return sorted({*troops, *(troop for (troop,) in found if troop)})


def bring_along(shown: Connection, home: str, touched: Touched) -> bool:
    """Puts what has landed since into a snapshot; whether it holds all that landed then, row for row."""
    news = f"file_no in (select file_no from {home}.landed.files except select file_no from landed.files)"
    for name in ("cell_places", "files", "findings", "units", *TABLES):
        of_files = {"cell_places": news, "files": news, "findings": "true"}
        which = of_files.get(name, "list_contains(?, unit_no)")
        values = [touched.units] if "?" in which else []
        shown.execute(f"delete from landed.{name} where {which}", values)
        shown.execute(f"insert into landed.{name} from {home}.landed.{name} where {which}", values)
    told = " union all ".join(
        f"select '{name}', count(*), sum(hash(t)::hugeint) from {{0}}landed.{name} t" for name in LANDED
    )
    here, there = (sorted(shown.execute(told.format(where)).fetchall()) for where in ("", f"{home}."))
    return here == there


def compute(con: Connection, apart: str, troops: Sequence[str], statistics: Mapping[str, Statistic]) -> None:
    """Makes a computed warehouse anew in which only some troops' landed rows have changed.

    `apart`: the name of one in memory that was computed of these troops and of whom they have to do with: their rows
    come from there, the others' stay. What tells of all troops together is computed of all, where what it reads
    differs.
    """
    _Anew(con, apart, troops, statistics).make()


class _Anew:
    """One such warehouse, gone through relation by relation; `since`: the first day on which a relation differs."""

    def __init__(self, con: Connection, apart: str, troops: Sequence[str], statistics: Mapping[str, Statistic]) -> None:
        taken = {name: one.takes for name, one in statistics.items()}
        self.con, self.apart, self.troops, self.statistics = con, apart, list(troops), statistics
        self.selects, self.together = dict(relations.ordered_relations()), relations.of_all_troops(taken)
        self.needs = {name: relations.needs_too(name, select, taken) for name, select in self.selects.items()}
        self.kept, self.poured = frozen.kept(con), relations.rules_poured()
        self.theirs = f"troop in ({', '.join('?' for _one in troops)})"
        self.of_troops, self.day_of = set(self._having("troop")), self._having("week_ending") | self._having("as_of")
        self.since = {FOUND: date.min}

    def make(self) -> None:
        rules = relations.needs_of(self.selects[FOUND])
        anew = [name.partition(".")[2] for name in rules & self.together]
        self.con.execute(f"delete from {FOUND} where list_contains(?, rule) or {self.theirs}", [anew, *self.troops])
        for name in TopologicalSorter(self.needs).static_order():
            is_poured_of_troops = name in self.poured and name not in self.together
            if name not in self.selects or relations.VIEWS & {name, name.partition(".")[0]} or is_poured_of_troops:
                continue
            if name == FOUND:
                self._pour(sorted(rules & self.together - self.poured), anew)
            elif name in self.together or name not in self.of_troops:
                self._of_all(name)
            else:
                self._of_some(name)

    def _pour(self, rules: Sequence[str], anew: Sequence[str]) -> None:
        """What the rules found: of all troops together, and of the touched ones."""
        for one in rules:
            self.con.execute(f"insert into {FOUND} by name {relations.as_found(one.partition('.')[2], one)}")
        own = f"from {self.apart}.{FOUND} where not list_contains(?, rule) and {self.theirs}"
        self.con.execute(f"insert into {FOUND} by name {own}", [anew, *self.troops])
        if FOUND in self.kept:
            frozen.put_in_place(self.con, FOUND, self.kept[FOUND])

    def _of_all(self, name: str) -> None:
        first = min((self.since[one] for one in self.needs[name] if one in self.since), default=None)
        if first is None and name not in self.poured:
            return
        statistic, select = self.statistics.get(name), self.selects[name]
        if statistic and statistic.by_day and first:
            relations.work_out(self.con, statistic, first)
            select = frozen.in_place(name, select, self.kept[name]) if name in self.kept else select
            self.con.execute(f"delete from {name} where as_of >= ?", [first])
            self.con.execute(f"insert into {name} by name from (\n{select}\n) where as_of >= ?", [first])
            self.since[name] = first
            return
        is_read_by_day = any(one.by_day and name in one.takes for one in self.statistics.values())
        before = self._rows(f"from {name}", name) if is_read_by_day else None
        relations.work_out(self.con, statistic)
        relations.make_relation(self.con, name, select, self.kept, self.poured)
        if since := date.min if before is None else _first(before, self._rows(f"from {name}", name)):
            self.since[name] = since

    def _of_some(self, name: str) -> None:
        both = (f"from {of}{name} where {self.theirs}" for of in ("", f"{self.apart}."))
        if since := _first(*(self._rows(rows, name, self.troops) for rows in both)):
            self.since[name] = since
            self.con.execute(f"delete from {name} where {self.theirs}", self.troops)
            own = f"from {self.apart}.{name} where {self.theirs}"
            self.con.execute(f"insert into {name} by name {own}", self.troops)

    def _having(self, column: str) -> dict[str, str]:
        """The relations that have a column, each with its name."""
        listed = "select schema_name || '.' || table_name from duckdb_columns() where column_name = ?"
        return {name: column for (name,) in self.con.execute(listed, [column]).fetchall()}

    def _rows(self, query: str, name: str, values: Sequence[str] = ()) -> Counter[tuple[date, str]]:
        """Rows of a relation, each with its day; where it has no column of days, with the first of all days."""
        day = f"o.{self.day_of[name]}" if name in self.day_of else f"date '{date.min}'"
        return Counter(self.con.execute(f"select {day}, o::varchar from ({query}) o", list(values)).fetchall())


def _first(some: Counter[tuple[date, str]], others: Counter[tuple[date, str]]) -> date | None:
    """The first day on which rows differ."""
    return min((day for day, _row in (some - others) + (others - some)), default=None)
