"""Likely slips in typing as questions to a troop's leader: of weeks that are in, and of one before it is sent.

Comes in: exceptions as they are listed, or a workbook that was read and what has landed of its troop. Goes out:
Questions. They are put in the words meant for the leader, which tell nothing of other troops.

Before a week is sent, what has landed of one troop (other troops' rows only where its own participants are on their
rosters) is copied into a warehouse in memory: what is published, and after it the weeks whose figures are still being
made. The workbook is judged there, and only what these rules rest on is computed: 0.27 s more in the demo. A slip is
asked about, never held: whoever sends may be right.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from pipelines.definitions.contract import TABLES
from pipelines.definitions.exception_rules import rules
from pipelines.definitions.records import Reading, Sheet
from pipelines.definitions.season import Season
from pipelines.figures.computing import compute
from pipelines.follow_up.first_calls import is_open
from pipelines.intake.elsewhere.mapping import Mappings
from pipelines.landing import arrivals, landed_rows
from pipelines.landing.arrivals import Opened, Rules
from pipelines.landing.landed_rows import Arrival
from pipelines.messages.finding_lines import Question
from pipelines.store import engine, landed_tables
from pipelines.store.book import now
from pipelines.store.engine import Connection

OTHER_WAY = {"roster": "troop = $troop or participant in (select participant from landed.families)"}
OTHER_WAY |= {"moves": "troop = $troop or other_troop = $troop"}


@dataclass(frozen=True, slots=True)
class Landed:
    """A troop's workbook that has come in, and whose figures may not be published yet: its file's number, its cells."""

    file_no: int
    troop: str
    sheets: list[Sheet]


def slips() -> tuple[str, ...]:
    """The names of the rules that find likely slips in typing."""
    return tuple(name for name, rule in rules().items() if rule.is_slip)


def questions(rows: Iterable[Mapping[str, Any]], file: str = "") -> list[Question]:
    """What open exceptions of a day ask about likely slips; of one file by its name, or of all."""
    asked = []
    for row in rows:
        if row["rule"] in slips() and is_open(dict(row)):
            pieces = [one for one in row["evidence"] if one["cell"] and file in ("", one["file"])]
            if pieces or not file:
                asked.append(Question(row["ask"], tuple((one["sheet"] or "", one["cell"]) for one in pieces)))
    return asked


def before_sending(
    season: Season,
    snapshot: Path,
    one: Opened,
    troop: str,
    week_ending: date,
    troops: Sequence[str],
    landed: Sequence[Landed] = (),
) -> list[Question]:
    """What would be asked about a workbook if it were sent: it is judged beside all that has landed of its troop.

    `snapshot`: what is published; `landed`: what came in since; `one`: the workbook, read; `troops`: the codes of all
    troops. In a warehouse that is thrown away; only what these rules rest on is computed.
    """
    con = engine.connect()
    try:
        engine.suit(con, is_large=False)
        landed_tables.prepare_landed(con)
        published = _copy_of_troop(con, snapshot, troop)
        engine.insert(con, "landed.troops (troop)", [(code,) for code in troops])
        rules = Rules(season, Mappings({}), landed_rows.known_participants(con, "snapshot."))
        since = sorted((each for each in landed if each.troop == troop), key=lambda each: each.file_no)
        for number, each in enumerate([*(_opened(each) for each in since if each.file_no > published), one], 1):
            each.file_no = published + number
            landed_rows.land_files(con, [Arrival(each.file_no, "", each.name, 0, now(), "", "submission")])
            arrivals.judge(con, rules, [each], now(), lambda _what, _done, _of: None)
        _copy(con, "roster", troop)
        compute(con, season, [week_ending], only=frozenset(f"exceptions.{name}" for name in slips()))
        return [question for name in slips() for question in _asked(con, name, troop, one.file_no)]
    finally:
        con.close()


def _opened(landed: Landed) -> Opened:
    return Opened("", "", 0, Path(), reading=Reading(landed.sheets), what="submission")


def _copy_of_troop(con: Connection, snapshot: Path, troop: str) -> int:
    """Copies what has landed of a troop; returns the number of the newest file."""
    _attach(con, snapshot)
    con.execute("insert into landed.files from snapshot.landed.files")
    con.execute("insert into landed.units from snapshot.landed.units")
    for name in TABLES:
        if name != "roster":
            _copy(con, name, troop)
    return landed_rows.last_landed(con)[0]


def _attach(con: Connection, snapshot: Path) -> None:
    quoted = str(snapshot).replace("'", "''")
    con.execute(f"attach '{quoted}' as snapshot (read_only)")


def _copy(con: Connection, table: str, troop: str) -> None:
    where = OTHER_WAY.get(table, "troop = $troop" if "troop" in TABLES[table].names else "$troop <> ''")
    con.execute(f"insert into landed.{table} from snapshot.landed.{table} where {where}", {"troop": troop})


def _asked(con: Connection, rule: str, troop: str, file_no: int) -> list[Question]:
    query = engine.sql("7_follow_up", "_asked").replace("{rule}", rule)
    found: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for row in engine.rows(con, query, [troop, file_no]):
        found.setdefault((row["subject"], row["ask"]), []).append((row["sheet"], row["cell"]))
    return [Question(ask, tuple(place for place in places if place[1])) for (_subject, ask), places in found.items()]
