"""The only module that imports duckdb: open a warehouse, run SQL files, fetch rows and frames.

Comes in: paths, names of SQL files, bound values. Goes out: connections and relations. A stage's folder is run as a
whole: each file becomes the table `<stage>.<file name>`, in the order in which the files name each other.
"""

import re
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from pipelines.compare import comparisons
from pipelines.contract import (
    FEEDS,
    ORDER_STATES,
    PAID_BY_HAND_STATES,
    REMITTANCE_STATES,
    REMOTE_STATES,
    SQL_TYPES,
    TABLES,
)
from pipelines.errors import Busy, NotABook
from pipelines.season import Season

SQL = Path(__file__).parent / "sql"
STAGES = {"accepted": "2_accepted", "facts": "3_facts", "measures": "4_measures", "exceptions": "5_exceptions"} | {
    "ledger": "6_ledger",
    "follow_up": "7_follow_up",
}
# Stages and relations that are made anew at every reading: few readers ask, and then mostly for one troop.
VIEWS = {"ledger", "follow_up.exceptions"}
BLOCK_BYTES = 16_384  # the smallest: a book has many small tables
LARGE_BLOCK_BYTES = 262_144  # the usual, for large ones
MANY_UNITS = 50_000  # landed units from which a book's tables are large
AT_ONCE = 2  # relations made at the same time: most are small, and planning them is most of the work
REFERENCE = re.compile(r"\b(accepted|facts|measures|exceptions|ledger|follow_up)\.([a-z_]+)")
LANDED = ("files", "units", "findings", "places", "follow_ups", *TABLES)  # what is kept of everything that came in

Connection = duckdb.DuckDBPyConnection


def connect(path: Path | None = None, *, read_only: bool = False) -> Connection:
    """A warehouse file opened, or one in memory; raises Busy or NotABook in the operator's words."""
    try:
        if path is None:
            return duckdb.connect(":memory:")
        is_new = not path.exists()
        return duckdb.connect(
            str(path), read_only=read_only, config={"default_block_size": str(BLOCK_BYTES)} if is_new else {}
        )
    except duckdb.IOException as fault:
        if "lock" in str(fault).lower():
            raise Busy("Another program has the warehouse open. Close it and try again.") from fault
        raise NotABook(f"The warehouse cannot be opened: {str(fault).splitlines()[0]}") from fault


@cache
def sql(stage_folder: str, name: str) -> str:
    """The text of one SQL file."""
    return (SQL / stage_folder / f"{name}.sql").read_text(encoding="utf-8")


def suit(con: Connection, *, is_large: bool) -> None:
    """All cores for each statement, or one: where tables are small, handing them out costs more than it saves."""
    con.execute("reset threads" if is_large else "set threads = 1")


def is_large(con: Connection) -> bool:
    """Whether so much has landed that the tables are large."""
    return bool(con.execute("select count(*) from landed.units").fetchall()[0][0] >= MANY_UNITS)


@contextmanager
def transaction(con: Connection) -> Iterator[None]:
    """All or nothing."""
    con.execute("begin")
    try:
        yield
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")


def prepare_landed(con: Connection) -> None:
    """Makes the landed tables of an empty book: files, units, findings, places, one for each of the contract."""
    con.execute("create schema if not exists landed")
    for path in sorted((SQL / "1_landed").glob("*.sql")):
        con.execute(path.read_text(encoding="utf-8"))
    for table in TABLES.values():
        columns = ", ".join(f'"{column.name}" {SQL_TYPES[column.kind]}' for column in table.columns)
        con.execute(
            f"create table if not exists landed.{table.name} "
            f"(unit_no integer, file_no integer, sheet varchar, row_no integer, {columns})"
        )


def _relations() -> dict[str, str]:
    """Every derived relation by its full name, with the select that makes it."""
    made = {}
    for stage, folder in STAGES.items():
        for path in sorted((SQL / folder).glob("[!_]*.sql")):
            made[f"{stage}.{path.stem}"] = path.read_text(encoding="utf-8")
    feeds = {table.name for table in FEEDS}
    for table in TABLES.values():
        template = sql("2_accepted", "_feed" if table.name in feeds else "_submission")
        key = ", ".join(f'r."{name}"' for name in table.key)
        made[f"accepted.{table.name}"] = template.format(table=table.name, key=key)
    rule = sql("7_follow_up", "_rule")
    made["follow_up.found"] = "\nunion all\n".join(rule.format(rule=name) for name in rules_of(made))
    return made


def rules_of(relations: dict[str, str]) -> list[str]:
    """The names of the rules of 5_exceptions, but for those that read what people wrote down: they come after."""
    own = {name.partition(".")[2]: text for name, text in relations.items() if name.startswith("exceptions.")}
    return [name for name, text in own.items() if not any("follow_up" in needed for needed in _needs(text))]


@cache
def ordered_relations() -> tuple[tuple[str, str], ...]:
    """Every derived relation and its select, each after those it names."""
    made = _relations()
    needs = {name: _needs(text) & made.keys() for name, text in made.items()}
    return tuple((name, made[name]) for name in TopologicalSorter(needs).static_order())


def _needs(text: str) -> set[str]:
    """The relations that a select names."""
    return {f"{stage}.{name}" for stage, name in REFERENCE.findall(re.sub(r"--.*", "", text))}


@cache
def _resting_on(names: frozenset[str]) -> dict[str, str]:
    """Some relations and all that they rest on, each after those it names."""
    wanted = set(names)
    for name, select in reversed(ordered_relations()):
        if name in wanted:
            wanted |= _needs(select)
    return {name: select for name, select in ordered_relations() if name in wanted}


def compute_again(con: Connection, changed: str) -> None:
    """Makes one relation of a computed warehouse again, and all that rest on it."""
    stale = {changed}
    for name, select in ordered_relations():
        if name in stale or _needs(select) & stale:
            stale.add(name)
            _make(con, name, select)


def _make(con: Connection, name: str, select: str) -> None:
    made = "view" if VIEWS & {name, name.partition(".")[0]} else "table"
    con.execute(f"create or replace {made} {name} as {select}")


def tell_season(con: Connection, season: Season) -> None:
    """The season's rules as tables: season.items, tiers, dues, rules, order_states, remittance_states."""
    con.execute("create schema if not exists season")
    con.execute(
        "create or replace table season.items "
        "(item_no integer, code varchar, title varchar, price decimal(12,2), packages_per_case integer, "
        "is_stocked boolean)"
    )
    insert(
        con,
        "season.items",
        [(n, i.code, i.title, i.price, i.packages_per_case, i.stocked) for n, i in enumerate(season.items, 1)],
    )
    con.execute("create or replace table season.tiers (tier_no integer, from_average decimal(12,4), rate decimal(9,4))")
    insert(
        con,
        "season.tiers",
        [(n, tier.from_average, tier.rate) for n, tier in enumerate(season.proceeds.tiers, 1)],
    )
    con.execute(
        "create or replace table season.dues (due_no integer, due_on date, share decimal(12,8), cutoff_on date)"
    )
    if season.dues:
        insert(
            con,
            "season.dues",
            [(n, due.on, due.share, due.cutoff_on) for n, due in enumerate(season.dues, 1)],
        )
    frame = season.season
    con.execute(
        "create or replace table season.rules as select ?::varchar as title, ?::varchar as area, ?::date as first_day, "
        "?::date as last_day, ?::varchar as currency, ?::integer as settle_days, ?::varchar as proceeds_per, "
        "?::integer as ship_minimum, ?::integer as answer_within_days, ?::date as first_week_ending, "
        "?::varchar as sign",
        [
            frame.title,
            frame.area,
            frame.first_day,
            frame.last_day,
            frame.currency,
            frame.settle_days,
            season.proceeds.per,
            season.online.ship_minimum,
            season.online.answer_within_days,
            season.first_week_ending,
            frame.sign,
        ],
    )
    thresholds = season.follow_up.model_dump()
    kinds = {int: "integer", Decimal: "decimal(12,4)"}
    told = ", ".join(f"?::{kinds[type(value)]} as {name}" for name, value in thresholds.items())
    con.execute(f"create or replace table season.thresholds as select {told}", list(thresholds.values()))
    con.execute(
        "create or replace table season.order_states "
        "(mode varchar, state varchar, rank integer, is_remote boolean, is_paid_by_hand boolean)"
    )
    insert(
        con,
        "season.order_states",
        [
            (mode, state, rank, (mode, state) in REMOTE_STATES, (mode, state) in PAID_BY_HAND_STATES)
            for mode, states in ORDER_STATES.items()
            for rank, state in enumerate(states, 1)
        ],
    )
    con.execute("create or replace table season.remittance_states (state varchar, rank integer)")
    insert(con, "season.remittance_states", [*zip(REMITTANCE_STATES, (1, 2, 3), strict=True)])


def tell_words(con: Connection, season: Season) -> None:
    """The macros by which rules and views say amounts, days and where a cell stands."""
    con.execute("create schema if not exists said")
    con.execute(sql("5_exceptions", "_words").replace("{sign}", season.season.sign))


def compute(
    con: Connection,
    season: Season,
    days: Sequence[date],
    known_on: datetime | None = None,
    only: frozenset[str] | None = None,
) -> None:
    """Makes every derived relation for the days chosen, from what was accepted by `known_on` (UTC; None: all).

    Meant for a warehouse in memory: relations that do not rest on each other are made at the same time. `only`: full
    names of relations; these are made, and what they rest on.
    """
    tell_season(con, season)
    con.execute("create schema if not exists chosen")
    con.execute("create or replace table chosen.days (as_of date, week_no integer)")
    if days:
        insert(con, "chosen.days", [(day, season.week_number(day)) for day in sorted(set(days))])
    con.execute("create or replace table chosen.known as select ?::timestamp as known_on", [known_on or datetime.max])
    for stage in STAGES:
        con.execute(f"create schema if not exists {stage}")
    tell_words(con, season)
    selects = dict(ordered_relations()) if only is None else _resting_on(only)
    order = TopologicalSorter({name: _needs(select) & selects.keys() for name, select in selects.items()})
    order.prepare()
    idle = [_beside(con) for _ in range(AT_ONCE)]

    def make(name: str) -> str:
        own = idle.pop()  # one for each thread, and never fewer
        if name == "measures.comparisons":  # statistics that SQL cannot say plainly: arrows in, arrows out
            load(own, "comparisons", comparisons(own.sql("from measures.compared").to_arrow_table()))
        _make(own, name, selects[name])
        idle.append(own)
        return name

    with ThreadPoolExecutor(AT_ONCE) as threads:
        making: set[Future[str]] = set()
        while order.is_active():
            making |= {threads.submit(make, name) for name in order.get_ready()}
            made, making = wait(making, return_when=FIRST_COMPLETED)
            order.done(*(future.result() for future in made))
    for own in idle:
        own.close()


def _beside(con: Connection) -> Connection:
    """Another connection to the same warehouse."""
    catalog = con.execute("select current_database()").fetchall()[0][0]
    own = con.cursor()
    own.execute(f"use {catalog}")
    return own


@contextmanager
def apart(con: Connection) -> Iterator[Connection]:
    """A warehouse in memory that holds what has landed, beside the one that is open."""
    home = con.execute("select current_database()").fetchall()[0][0]
    con.execute("attach ':memory:' as making")
    try:
        memory = con.cursor()
        memory.execute("use making")
        memory.execute("create schema landed")
        for name in LANDED:
            memory.execute(f"create table landed.{name} as from {home}.landed.{name}")
        yield memory
        memory.close()
    finally:
        con.execute("detach making")


def write_out(memory: Connection, path: Path) -> None:
    """Writes a warehouse made apart into a file of its own."""
    quoted = str(path).replace("'", "''")
    block_bytes = LARGE_BLOCK_BYTES if is_large(memory) else BLOCK_BYTES
    memory.execute(f"attach '{quoted}' as snapshot (block_size {block_bytes})")
    memory.execute("copy from database making to snapshot (schema)")
    listed = memory.execute(
        "select schema_name || '.' || table_name from duckdb_tables() where database_name = 'making' "
        "order by estimated_size desc"
    ).fetchall()

    def fill(own: Connection, names: list[tuple[str]]) -> None:
        with own, transaction(own):
            for (name,) in names:
                own.execute(f"insert into snapshot.{name} from making.{name}")

    with ThreadPoolExecutor(AT_ONCE) as threads:
        shares = [(_beside(memory), listed[first::AT_ONCE]) for first in range(AT_ONCE)]
        list(threads.map(fill, *zip(*shares, strict=True)))
    memory.execute("detach snapshot")


def look_back(snapshot: Path) -> Connection:
    """A warehouse in memory whose landed tables are those of a snapshot, for any day and known-on time."""
    con = connect()
    quoted = str(snapshot).replace("'", "''")
    con.execute(f"attach '{quoted}' as snapshot (read_only)")
    con.execute("create schema landed")
    for name in LANDED:
        con.execute(f"create view landed.{name} as from snapshot.landed.{name}")
    return con


def rows(con: Connection, query: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
    """The rows of a query, each as a dict."""
    done = con.execute(query, list(values))
    names = [column[0] for column in done.description or []]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]


def insert(con: Connection, table: str, listed: Sequence[tuple[Any, ...]]) -> None:
    """Adds rows to a table, their values in the order of its columns; one statement however many there are."""
    if listed:
        columns = {f"c{place}": list(cells) for place, cells in enumerate(zip(*listed, strict=True))}
        con.register("_arriving", pa.table(columns))
        con.execute(f"insert into {table} select * from _arriving")
        con.unregister("_arriving")


def load(con: Connection, name: str, frame: pa.Table) -> None:
    """An Arrow table under a temporary name."""
    con.register("_arriving", frame)
    con.execute(f"create or replace temp table {name} as select * from _arriving")
    con.unregister("_arriving")
