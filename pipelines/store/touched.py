"""What a few troops' new weeks touch: which troops, and with whom they have to do.

Comes in: a book's warehouse and, beside it, the snapshot that was published before what has landed since. Goes out: the
troops whose figures can differ now, or that all of them may; the snapshot with what has landed since.

A troop's figures come from its own rows and from those of whoever has to do with it: the other troop of a move, and
every troop in which one of its participants appears (on a roster, with a family's packages, at a stall). So what
landed touches its own troop and these, and to compute them their like is needed once more. Whatever is not of one troop
(a feed, the season, a mapping, what was agreed) touches all.
"""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from pipelines.definitions.contract import TABLES
from pipelines.definitions.feeds import FEEDS
from pipelines.store.engine import Connection
from pipelines.store.landed_tables import LANDED, naming_troops

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
