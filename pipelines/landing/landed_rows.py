"""Judged rows → the landed tables: each unit accepted or held, with every finding; nothing is ever altered.

Comes in: Staged tables (Arrow) and findings. Goes out: rows of landed.files, units, findings and the contract's tables.

Held rows are not stored, only their units with counts; the bytes are. When a feed, a mapping or the season changes, the
file is read and judged again, so a verdict is never older than what it rests on. A unit's place in time is the file's,
not the verdict's: of two files that say different things, the one landed later holds, even where the earlier one was
accepted later.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from pipelines.definitions.columns import Kind, Table
from pipelines.definitions.contract import MAY_STAND_TWICE, TABLES
from pipelines.definitions.records import Finding
from pipelines.intake.judging.codes import Roster
from pipelines.store import engine
from pipelines.store.engine import Connection

MONEY_STATED = {
    "families": "cash, card",
    "stalls": "cash, card, gift",
    "banked": "amount",
    "online_orders": "goods_amount",
    "collections": "amount",
    "remittances": "amount",
    "adjustments": "amount",
    "bank_lines": "amount",
}

COUNTED = ("packages", "packages_back", "count", "money", "money_noted", "money_signed")  # kinds that add up

IS_WAITING = "f.what in ('unknown', 'foreign') and not exists (from landed.units w where w.file_no = f.file_no)"
"""Of a file `f`: whether no row of it was ever told: it could not be read, or its headers wait for a mapping."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """One file as it landed."""

    file_no: int
    sha256: str
    name: str
    size_bytes: int
    landed_at: datetime
    sender: str
    what: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A finding with the file, table and unit it belongs to; unit "" is the file as a whole."""

    file_no: int
    table_name: str
    unit: str
    finding: Finding


def last_landed(con: Connection) -> tuple[int, datetime | None]:
    """The number and the time of the newest landed file; 0 and None in an empty book."""
    done = con.execute("select coalesce(max(file_no), 0), max(landed_at) from landed.files").fetchall()
    return done[0][0], done[0][1]


def known_hashes(con: Connection) -> set[str]:
    """The SHA-256 of every file ever landed."""
    return {row[0] for row in con.execute("select sha256 from landed.files").fetchall()}


def superseded_hashes(con: Connection) -> set[str]:
    """The SHA-256 of workbooks of which something was replaced by a newer word on the same week."""
    query = """
        select f.sha256
        from landed.files f
        join landed.units u using (file_no)
        join landed.units n using (table_name, troop, week_ending)
        where f.what = 'submission' and u.accepted_at is not null and n.accepted_at is not null
        group by f.sha256
        having max(n.file_no) > max(u.file_no)
    """
    return {row[0] for row in con.execute(query).fetchall()}


def known_troops(con: Connection) -> frozenset[str]:
    """The codes of all troops of accepted troops and roster rows."""
    done = con.execute("select troop from landed.troops union select troop from landed.roster").fetchall()
    return frozenset(row[0] for row in done)


def known_participants(con: Connection, catalog: str = "") -> Roster:
    """The codes of all participants of accepted roster rows, of this warehouse or of one that is attached."""
    query = f"select participant, list(distinct troop) from {catalog}landed.roster group by participant"
    return {code: frozenset(troops) for code, troops in con.execute(query).fetchall()}


def land_files(con: Connection, arrivals: Iterable[Arrival]) -> None:
    """Writes down each file that landed."""
    listed = [(a.file_no, a.sha256, a.name, a.size_bytes, a.landed_at, a.sender, a.what) for a in arrivals]
    if listed:
        engine.insert(con, "landed.files", listed)


def stage(con: Connection, frame: Any) -> None:
    """Puts judged rows (an Arrow table, numbered by `pos`) beside the landed ones."""
    engine.load(con, "staged", frame)


def twice_with_different_values(con: Connection, table: Table) -> list[tuple[int, str]]:
    """Positions (and units) of staged rows whose key stands earlier in the same file with other values."""
    if not table.key:
        return []
    key = ", ".join(f'"{name}"' for name in table.key)
    rest = ", ".join(f'"{name}"' for name in table.names)
    where = "where not is_nothing and not is_bad"
    return con.execute(
        f"with marked as (select pos, unit, row({rest}) as whole, first_value(row({rest})) over "
        f"(partition by file_no, {key} order by pos) as first_whole from staged {where}) "
        "select pos, unit from marked where whole is distinct from first_whole order by pos"
    ).fetchall()


def has_doubles(con: Connection, table: Table) -> bool:
    """Whether a key stands twice in one file among the staged rows; cheap beside finding out which."""
    names = table.key or (table.names if table.name in MAY_STAND_TWICE else ())
    if not names:
        return False
    key = ", ".join(f'"{name}"' for name in ("file_no", *names))
    done = con.execute(
        f"with good as (select {key} from staged where not is_nothing and not is_bad) "
        "select (select count(*) from good), (select count(*) from (select distinct * from good))"
    ).fetchall()
    return bool(done[0][0] != done[0][1])


def rows_alike(con: Connection, table: Table) -> list[list[int]]:
    """Positions of staged rows of one file that say the same in every column of the contract, the first one first."""
    columns = ", ".join(f'"{name}"' for name in table.names)
    done = con.execute(
        "select list(pos order by pos) as alike from staged where not is_nothing and not is_bad "
        f"group by file_no, {columns} having count(*) > 1 order by alike[1]"
    ).fetchall()
    return [row[0] for row in done]


def take_as_one(con: Connection, table: Table, drop: Sequence[int], times: dict[int, int]) -> None:
    """Leaves the staged rows at these positions out; those that stand for several count so many times."""
    if drop:
        con.execute("delete from staged where list_contains(?::integer[], pos)", [list(drop)])
    counted = [column.name for column in table.columns if column.kind in COUNTED]
    for pos, count in times.items():
        made = ", ".join(f'"{name}" = "{name}" * {count:d}' for name in counted)
        con.execute(f"update staged set {made} where pos = ?", [pos])


def _shared_by(table: Table) -> list[str]:
    """What rows of two tables of one week have in common where they tell of the same thing."""
    if table.key:
        return [name for name in table.key if name not in ("troop", "week_ending")]
    return ["date", "slip"] if table.name == "banked" else ["date", "item", "direction", "other_troop"]


def _parts(table: Table) -> str:
    """SQL: the files (part) of which a week's newest accepted rows of a table come, that share no staged row.

    A value: the number of the file that is staged.
    """
    columns = ", ".join(f'"{name}"' for name in _shared_by(table))
    same = " and ".join(f'c."{name}" is not distinct from o."{name}"' for name in _shared_by(table))
    return f"""
        with came as (
            select unit, troop, week_ending, pos, {columns} from staged where not is_nothing and not is_bad
        ),
        current as (
            select unit_no, troop, week_ending from landed.units
            where table_name = '{table.name}' and accepted_at is not null and week_ending is not null and file_no < ?
            qualify row_number() over (partition by troop, week_ending order by file_no desc) = 1
        ),
        older as (
            select r.unit_no, r.file_no as part, r.troop, r.week_ending, {columns}
            from landed.{table.name} r
            join current using (unit_no)
            where (r.troop, r.week_ending) in (select (troop, week_ending) from came)
        ),
        shared as (
            select distinct o.unit_no, o.part from older o
            join came c on c.troop = o.troop and c.week_ending = o.week_ending and {same}
        ),
        parts as (
            select unit_no, part, troop, week_ending, count(*) as rows from older anti join shared using (unit_no, part)
            group by all
        )
    """


def parts_not_shared(con: Connection, table: Table, file_no: int) -> list[tuple[str, int, str, int]]:
    """Units of staged rows that share none with a file whose rows they replace: unit, a row, that file, its rows."""
    return con.execute(
        _parts(table) + "select min(c.unit), min(c.pos)::integer, f.name, any_value(p.rows) from parts p "
        "join came c using (troop, week_ending) join landed.files f on f.file_no = p.part "
        "group by p.troop, p.week_ending, p.part, f.name order by 2",
        [file_no],
    ).fetchall()


def take_parts_over(con: Connection, table: Table, file_no: int) -> None:
    """Copies rows that staged ones share nothing with into the units just made, each with the place it came from."""
    columns = ", ".join(f'r."{name}"' for name in table.names)
    con.execute(
        f"insert into landed.{table.name} "
        + _parts(table)
        + f"select n.unit_no, r.file_no, r.sheet, r.row_no, {columns} from landed.{table.name} r "
        "join parts p on p.unit_no = r.unit_no and p.part = r.file_no "
        "join new_units n on n.troop = r.troop and n.week_ending = r.week_ending and n.is_accepted",
        [file_no],
    )


def units_with_bad_rows(con: Connection) -> set[str]:
    """The units of which a staged row was refused."""
    return {row[0] for row in con.execute("select distinct unit from staged where is_bad").fetchall()}


def rows_missing(con: Connection, table: Table, file_no: int) -> int:
    """How many keys of earlier files this file of a feed leaves out; 0 where it only adds keys of its own."""
    key = ", ".join(f'"{name}"' for name in table.key)
    done = con.execute(
        f"with known as (select distinct {key} from landed.{table.name} where file_no < ?), "
        f"came as (select distinct {key} from staged), "
        f"both_have as (select count(*) as n from known semi join came using ({key})) "
        f"select case when n > 0 then (select count(*) from known anti join came using ({key})) else 0 end "
        "from both_have",
        [file_no],
    ).fetchall()
    return int(done[0][0])


def in_two_troops(con: Connection) -> list[tuple[int, str, str]]:
    """Positions, units and the other troop of staged roster rows whose code another troop has at the same time."""
    return con.execute(
        """
        with held as (
            select troop, participant, registered_on, left_on, null as pos
            from landed.roster
            qualify row_number() over (partition by troop, participant order by file_no desc) = 1
            union all
            select troop, participant, registered_on, left_on, pos from staged where not is_bad
        )
        select s.pos, s.unit, min(h.troop)
        from staged s
        join held h on h.participant = s.participant and h.troop <> s.troop
            and h.registered_on < coalesce(s.left_on, date '9999-12-31')
            and s.registered_on < coalesce(h.left_on, date '9999-12-31')
        where not s.is_bad
            -- a newer row of the same key in this file takes the older one's place
            and not (h.pos is null and exists (
                select 1 from staged n where n.troop = h.troop and n.participant = h.participant and not n.is_bad))
        group by s.pos, s.unit
        order by s.pos
        """
    ).fetchall()


def store(
    con: Connection, table: Table, at: datetime, *, bad_units: set[tuple[int, str]], files: Iterable[int] = ()
) -> None:
    """Makes units of the staged rows and lands those of accepted ones.

    `bad_units`: (file_no, unit) that are held. `files`: workbooks, each of which gets its unit even without a row.
    Units that a file already has accepted stay as they are.
    """
    con.execute("create or replace temp table bad_units (file_no integer, unit varchar)")
    if bad_units:
        engine.insert(con, "bad_units", sorted(bad_units))
    con.execute("create or replace temp table empty_files (file_no integer)")
    listed = [(file_no,) for file_no in files]
    if listed:
        engine.insert(con, "empty_files", listed)
    packages = "coalesce(sum(abs(packages)), 0)" if any(c.name == "packages" for c in table.columns) else "0"
    money = MONEY_STATED.get(table.name)
    dollars = (
        "coalesce(sum(" + " + ".join(f"coalesce({one}, 0)" for one in money.split(", ")) + "), 0)" if money else "0"
    )
    troop = "min(troop)" if any(c.name == "troop" for c in table.columns) else "null::varchar"
    week = "min(week_ending)" if any(c.name == "week_ending" for c in table.columns) else "null::date"
    con.execute(
        f"""
        create or replace temp table new_units as
        with found as (
            select file_no, unit, {troop} as troop, {week} as week_ending, count(*) as rows_read,
                {packages} as packages, {dollars} as dollars, min(pos) as pos
            from staged
            group by file_no, unit
            union all
            select file_no, '', null, null, 0, 0, 0, 0 from empty_files anti join staged using (file_no)
        )
        select
            coalesce((select max(unit_no) from landed.units), 0)
                + row_number() over (order by f.file_no, f.pos) as unit_no,
            f.* exclude (pos), b.file_no is null as is_accepted
        from found f
        left join bad_units b on b.file_no = f.file_no and (b.unit = f.unit or b.unit = '')
        anti join (select file_no, unit from landed.units where table_name = ?) u
            on u.file_no = f.file_no and u.unit = f.unit
        """,
        [table.name],
    )
    con.execute(
        "insert into landed.units select unit_no, file_no, ?, unit, troop, week_ending, rows_read, packages, dollars, "
        "case when is_accepted then ?::timestamp end from new_units",
        [table.name, at],
    )
    columns = ", ".join(f's."{name}"' for name in table.names)
    con.execute(
        f"insert into landed.{table.name} select u.unit_no, s.file_no, s.sheet, s.row_no, {columns} "
        "from staged s join new_units u on u.file_no = s.file_no and u.unit = s.unit "
        "where u.is_accepted and not s.is_nothing"
    )


def left_as_taken(con: Connection, table: Table, file_no: int) -> tuple[int, list[tuple[int, str]]]:
    """Leaves staged rows of a file out that an earlier mapping already took in: they stay as they are.

    How many of them are read otherwise now, and the rows (position, unit) that belong to a unit taken in without them;
    these become units of their own, to be held.
    """
    columns = ", ".join(f'"{name}"' for name in table.names)
    con.execute(
        "create or replace temp table taken as select sheet, row_no, unit from "
        f"landed.{table.name} r join landed.units u using (unit_no) where r.file_no = ? group by all",
        [file_no],
    )
    if not con.execute("select count(*) from taken").fetchall()[0][0]:
        return 0, []
    otherwise = con.execute(
        f"select count(*) from (select sheet, row_no, {columns} from landed.{table.name} where file_no = ? "
        f"except select sheet, row_no, {columns} from staged)",
        [file_no],
    ).fetchall()[0][0]
    con.execute("delete from staged s using taken t where t.sheet = s.sheet and t.row_no = s.row_no")
    # A row that says the same as one of its unit was one with it; any other is told, since its unit is closed.
    late = con.execute(
        f"select pos, unit || ' (row ' || row_no || ')' from staged s where not is_nothing and unit in "
        f"(select unit from taken) and row({columns}) not in (select row({columns}) from landed.{table.name} "
        "where file_no = ?) order by pos",
        [file_no],
    ).fetchall()
    con.execute(
        "update staged set unit = unit || ' (row ' || row_no || ')' where list_contains(?::integer[], pos)",
        [[pos for pos, _unit in late]],
    )
    return otherwise, late


def name_weeks(con: Connection, weeks: dict[int, tuple[str | None, Any]]) -> None:
    """Gives the units of workbooks the troop and week of their cover, also where a sheet had no row."""
    if weeks:
        con.execute("create or replace temp table covers (file_no integer, troop varchar, week_ending date)")
        engine.insert(con, "covers", [(n, troop, week) for n, (troop, week) in weeks.items()])
        con.execute(
            "update landed.units set troop = c.troop, week_ending = c.week_ending from covers c "
            "where c.file_no = landed.units.file_no and landed.units.unit = ''"
        )


def write_places(con: Connection, table: Table, places: Sequence[tuple[Any, ...]]) -> None:
    """Writes down where a table's columns stand (file, sheet, column, letters, item, row), in place of an older one."""
    if not places:
        return
    con.execute(
        "create or replace temp table standing_at "
        "(file_no integer, sheet varchar, column_name varchar, letters varchar, item varchar, row_no integer)"
    )
    engine.insert(con, "standing_at", places)
    con.execute(
        "delete from landed.cell_places p where table_name = ? and exists "
        "(select 1 from standing_at n where n.file_no = p.file_no and n.sheet = p.sheet)",
        [table.name],
    )
    con.execute(
        "insert into landed.cell_places select file_no, ?, sheet, column_name, letters, item, row_no from standing_at",
        [table.name],
    )


def write_findings(con: Connection, placed: Iterable[Placed], at: datetime) -> None:
    """Writes down what was found."""
    listed = [
        (p.file_no, p.table_name, p.unit, f.sheet, f.cell, f.found, f.expected, f.how, f.is_note, at, None)
        for p in placed
        for f in [p.finding]
    ]
    if listed:
        engine.insert(con, "landed.findings", listed)


def forget_verdict(con: Connection, file_nos: Iterable[int], at: datetime) -> None:
    """Ends the open findings of files and takes their held units out, before they are judged again."""
    for file_no in file_nos:
        con.execute("update landed.findings set ended_at = ? where file_no = ? and ended_at is null", [at, file_no])
        con.execute("delete from landed.units where file_no = ? and accepted_at is null", [file_no])


def held_files(con: Connection) -> list[dict[str, Any]]:
    """The files of which something is held, or that were not recognised, oldest first."""
    return engine.rows(
        con,
        f"select file_no, sha256, name, what from landed.files f where {IS_WAITING} or exists "
        "(select 1 from landed.units u where u.file_no = f.file_no and u.accepted_at is null) order by file_no",
    )


def partly_taken(con: Connection) -> set[int]:
    """The files of which a unit was accepted."""
    query = "select distinct file_no from landed.units where accepted_at is not null"
    return {row[0] for row in con.execute(query).fetchall()}


def held_units(con: Connection) -> int:
    """How many units are held."""
    done = con.execute("select count(*) from landed.units where accepted_at is null").fetchall()
    return int(done[0][0])


def weeks_named(con: Connection) -> set[date]:
    """The days on which accepted weeks end."""
    done = con.execute("select distinct week_ending from landed.units where accepted_at is not null").fetchall()
    return {row[0] for row in done if row[0]}


def items_named(con: Connection, *kinds: Kind) -> set[str]:
    """The item codes that accepted rows name in columns of these kinds."""
    named: set[str] = set()
    for table in TABLES.values():
        if any(column.name == "item" and column.kind in kinds for column in table.columns):
            done = con.execute(f"select distinct item from landed.{table.name} where item is not null").fetchall()
            named.update(row[0] for row in done)
    return named
