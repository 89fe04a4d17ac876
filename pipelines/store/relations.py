"""The derived relations: each SQL file of a stage is one, made in the order in which the files name each other.

Comes in: a warehouse with what has landed, the season, days. Goes out: the same warehouse with every relation computed.
A stage's folder is run as a whole: each file becomes the table `<stage>.<file name>`; there is no registry.

A relation is a file: 4_measures/dues.sql is measures.dues, one select, its grain and sources in the first comment
lines. Every relation of measures carries as_of: the same SQL serves all published weeks at once, one day of a roll-up,
and an earlier known-on time (the landed tables seen through chosen.known). What the rules of 5_exceptions find goes
straight into one table, follow_up.found: a rule is a table of its own only where another file names it, or it is asked
for by its name.

What a relation tells of a troop comes from that troop's rows and from those of whoever has to do with it, so that a few
troops can be computed apart (touched.py); but for what says `All troops together` in its head, and what reads that.
"""

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence, Set
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pyarrow as pa

from pipelines.definitions.contract import TABLES
from pipelines.definitions.feeds import FEEDS
from pipelines.definitions.season import Season
from pipelines.store import engine, frozen, measure_sql
from pipelines.store.engine import AT_ONCE, SQL, Connection, Fault, beside, insert, load, run_again, sql
from pipelines.store.season_tables import tell_season, tell_words

STAGES = {"accepted": "2_accepted", "facts": "3_facts", "measures": "4_measures", "exceptions": "5_exceptions"} | {
    "ledger": "6_ledger",
    "follow_up": "7_follow_up",
}

# Stages and relations that are made anew at every reading: few readers ask, and then mostly for one troop.
VIEWS = {"ledger", "follow_up.exceptions"}

FOUND = "follow_up.found"  # what all rules found: they are poured into it, one after the other

TOGETHER = re.compile(r"--.*\bAll troops together\b")

REFERENCE = re.compile(r"\b(accepted|facts|measures|exceptions|ledger|follow_up)\.([a-z_]+)")


@dataclass(frozen=True, slots=True)
class Statistic:
    """Arrow in, Arrow out: the relations it takes, the temporary table it gives, and how it is worked out.

    `by_day`: the first relation it takes has a row an asked day, and what comes of a day rests on rows up to that day
    alone, in the statistic and in the relation that reads it; so only the days from which on something differs need be
    made anew.
    """

    takes: tuple[str, ...]
    gives: str
    worked_out: Callable[..., pa.Table]
    by_day: bool = False


def work_out(con: Connection, needed: Statistic | None, first_day: date = date.min) -> None:
    """Puts what SQL cannot say plainly where the relation that needs it finds it; of asked days from one on."""
    if needed:
        since = [f" where as_of >= date '{first_day}'" if needed.by_day and not place else ""
                 for place in range(len(needed.takes))]  # fmt: skip
        taken = [con.sql(f"from {one}{days}").to_arrow_table() for one, days in zip(needed.takes, since, strict=True)]
        load(con, needed.gives, needed.worked_out(*taken))


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
    made |= measure_sql.made(made)
    made[FOUND] = "\nunion all by name\n".join(as_found(name, f"exceptions.{name}") for name in rules_of(made))
    return made


def as_found(rule: str, source: str) -> str:
    """What a rule finds, as rows of follow_up.found."""
    return sql("7_follow_up", "_rule").format(rule=rule, source=source)


def rules_of(relations: dict[str, str]) -> list[str]:
    """The names of the rules of 5_exceptions, but for those that read what the others found: they come after."""
    own = {name.partition(".")[2]: text for name, text in relations.items() if name.startswith("exceptions.")}
    return [name for name, text in own.items() if not any(needed.startswith("follow_up.") for needed in needs_of(text))]


@cache
def ordered_relations() -> tuple[tuple[str, str], ...]:
    """Every derived relation and its select, each after those it names."""
    made = _relations()
    needs = {name: needs_of(text) & made.keys() for name, text in made.items()}
    return tuple((name, made[name]) for name in TopologicalSorter(needs).static_order())


@cache
def mark() -> str:
    """What tells figures computed by this program's relations, from what it lands, from those of another program."""
    landed = [path.read_text(encoding="utf-8") for path in sorted((SQL / "1_landed").glob("*.sql"))]
    columns = [f"{table.name}.{c.name} {c.kind}" for table in TABLES.values() for c in table.columns]
    here = Path(__file__).parent  # and what Python works out, beside the SQL
    worked_out = [
        one.read_text(encoding="utf-8") for of in (here, here.parent / "figures") for one in sorted(of.glob("*.py"))
    ]
    told = [*landed, *columns, *(f"{name} {select}" for name, select in sorted(ordered_relations())), *worked_out]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:10]


@cache
def needs_of(text: str) -> Set[str]:
    """The relations that a select names."""
    return frozenset(f"{stage}.{name}" for stage, name in REFERENCE.findall(re.sub(r"--.*", "", text)))


def needs_too(name: str, select: str, taken: Mapping[str, tuple[str, ...]]) -> Set[str]:
    """The relations that a relation rests on: those that its select names, and those that its statistic takes."""
    return needs_of(select) | set(taken.get(name, ()))


@cache
def _resting_on(names: frozenset[str], statistics: tuple[tuple[str, tuple[str, ...]], ...]) -> dict[str, str]:
    """Some relations and all that they rest on, or their statistics do, each after those it names."""
    taken, wanted, before = dict(statistics), set(names), set[str]()
    while wanted != before:
        before = set(wanted)
        for name, select in reversed(ordered_relations()):
            if name in wanted:
                wanted |= needs_too(name, select, taken)
    return {name: select for name, select in ordered_relations() if name in wanted}


def of_all_troops(taken: Mapping[str, tuple[str, ...]]) -> Set[str]:
    """The relations that tell of a troop by what all others did: those that say so, and whatever reads one of them.

    `taken`: the relations that a relation's statistic takes.
    """
    found, before = set[str](), None
    while before != found:
        before = set(found)
        for name, select in ordered_relations():
            if TOGETHER.search(select) or needs_too(name, select, taken) & found:
                found.add(name)
    return found


def compute_again(con: Connection, changed: str) -> None:
    """Makes one relation of a computed warehouse again, and all that rest on it."""
    stale = {changed}
    kept, poured = frozen.kept(con), rules_poured()
    for name, select in ordered_relations():
        if name in stale or needs_of(select) & stale:
            stale.add(name)
            if name in poured:
                con.execute(f"delete from {FOUND} where rule = ?", [name.partition(".")[2]])
            make_relation(con, name, select, kept, poured)


def make_relation(
    con: Connection, name: str, select: str, kept: Mapping[str, frozen.Kept], poured: Set[str] = frozenset()
) -> None:
    """Makes a relation; of those that are `poured`, adds the rows to follow_up.found, which is there already."""
    try:
        if name in poured:
            run_again(con, f"insert into {FOUND} by name {as_found(name.partition('.')[2], f'({select})')}")
        elif name == FOUND:
            for one in sorted(needs_of(select) - poured):
                con.execute(f"delete from {FOUND} where rule = ?", [one.partition(".")[2]])
                con.execute(f"insert into {FOUND} by name {as_found(one.partition('.')[2], one)}")
            if name in kept:
                frozen.put_in_place(con, name, kept[name])
        else:
            made = "view" if VIEWS & {name, name.partition(".")[0]} else "table"
            if name in kept:
                select = frozen.in_place(name, select, kept[name])
            run_again(con, f"create or replace {made} {name} as {select}")
    except Fault as fault:
        raise type(fault)(f"{_file_of(name)}: {fault}") from fault


def rules_poured(only: Set[str] = frozenset()) -> Set[str]:
    """The rules that nothing reads but follow_up.found, and that are not asked for by name."""
    selects = dict(ordered_relations())
    read = {one for name, select in selects.items() if name != FOUND for one in needs_of(select)}
    return needs_of(selects[FOUND]) - read - only


def _file_of(name: str) -> str:
    """Where the select of a relation is written: its own file, or that it is made from what is declared."""
    stage, _dot, stem = name.partition(".")
    own = SQL / STAGES[stage] / f"{stem}.sql"
    return f"sql/{STAGES[stage]}/{own.name}" if own.is_file() else f"{name} (made from declarations)"


def compute(
    con: Connection,
    season: Season,
    days: Sequence[date],
    known_on: datetime | None = None,
    only: frozenset[str] | None = None,
    *,
    statistics: Mapping[str, Statistic] | None = None,
) -> None:
    """Makes every derived relation for the days chosen, from what was accepted by `known_on` (UTC; None: all).

    Meant for a warehouse in memory: relations that do not rest on each other are made at the same time. `only`: full
    names of relations; these are made, and what they rest on. `statistics`: what a relation needs that SQL cannot say
    plainly, by its name.
    """
    engine.suit(con, is_large=engine.is_large(con))
    engine.plan_simply(con)
    tell_season(con, season)
    con.execute("create schema if not exists chosen")
    con.execute("create or replace table chosen.days (as_of date, week_no integer)")
    if days:
        insert(con, "chosen.days", [(day, season.week_number(day)) for day in sorted(set(days))])
    con.execute("create or replace table chosen.known as select ?::timestamp as known_on", [known_on or datetime.max])
    for stage in STAGES:
        con.execute(f"create schema if not exists {stage}")
    tell_words(con, season)
    if kept := frozen.kept(con):
        make_relation(con, "accepted.closings", dict(ordered_relations())["accepted.closings"], {})
        frozen.tell_days(con)
    taken = {name: one.takes for name, one in (statistics or {}).items()}
    selects = dict(ordered_relations()) if only is None else _resting_on(only, tuple(taken.items()))
    needs = {name: needs_too(name, select, taken) & selects.keys() for name, select in selects.items()}
    poured: Set[str] = frozenset()
    if FOUND in selects:
        con.execute(sql("7_follow_up", "_found"))
        poured = rules_poured(only or frozenset())
    order = TopologicalSorter(needs)
    order.prepare()
    idle = [beside(con) for _ in range(AT_ONCE)]

    def make(name: str) -> str:
        own = idle.pop()  # one for each thread, and never fewer
        try:
            work_out(own, (statistics or {}).get(name))
            make_relation(own, name, selects[name], kept, poured)
        finally:
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
