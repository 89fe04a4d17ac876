"""A troop's workbook judged before it is sent: whose it is, what is to mend, and what it would change.

Comes in: a workbook's bytes or its sheets, the season, the troops that are known, what is published. Goes out: a
Preview, with what is asked about likely slips in typing.
Nothing lands: the file goes through the same reading and judging as any other, in a warehouse that is thrown away.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from pipelines.definitions.limits import BULK, Limits
from pipelines.definitions.records import Finding, Reading, Sheet
from pipelines.definitions.season import Season
from pipelines.definitions.submissions import SUBMISSION_TABLES
from pipelines.intake.elsewhere.mapping import Mappings
from pipelines.intake.judging.codes import Roster
from pipelines.landing import arrivals, landed_rows
from pipelines.landing.arrivals import Opened, Rules
from pipelines.landing.landed_rows import Arrival
from pipelines.messages.finding_lines import Question
from pipelines.store import engine, landed_tables
from pipelines.store.book import now
from pipelines.store.engine import Connection
from pipelines.workflow.slip_questions import Landed, before_sending

Row = dict[str, Any]
Rows = Mapping[str, Sequence[Mapping[str, Any]]]  # of each table of a submission
AMOUNTS = ("on_hand", "damaged", "received", "packages", "cash", "card", "gift", "amount", "goal", "made_elsewhere",
           "steps", "bank_balance")  # fmt: skip
OF_ONE = ("goal", "made_elsewhere")  # which nobody adds up


@dataclass(frozen=True, slots=True)
class Change:
    """One value that would be another: in which table, of what, which column, from what to what."""

    table: str
    of: str
    column: str
    before: Any
    after: Any


@dataclass
class Preview:
    """What a file is and would do. `troop` is None where it is no troop's workbook, or its troop is not known."""

    what: str
    troop: str | None = None
    week_ending: date | None = None
    findings: list[Finding] = field(default_factory=list)
    rows: dict[str, list[Row]] = field(default_factory=dict)
    sheets: list[Sheet] = field(default_factory=list)  # its cells as they were read
    questions: list[Question] = field(default_factory=list)

    @property
    def is_held(self) -> bool:
        """Whether something must be mended first."""
        return any(not finding.is_note for finding in self.findings)


def preview(
    season: Season,
    troops: Sequence[str],
    given: Path | list[Sheet],
    name: str,
    beside: Path | None = None,
    *,
    landed: Sequence[Landed] = (),
    limits: Limits = BULK,
) -> Preview:
    """Judges one file that may be a troop's workbook; `troops`: the codes of all troops that are known.

    `beside`: what is published; with it what has nothing to mend is looked through for likely slips too. `landed`: what
    has come in since then.
    """
    one = Opened(name, "", 0, given if isinstance(given, Path) else Path())
    if isinstance(given, Path):
        arrivals.read([one], lambda _what, _done, _of: None, limits)
    else:
        one.reading, one.what = Reading(given), "submission"
    if one.what != "submission":
        return Preview(one.what, findings=list(one.reading.findings), sheets=one.reading.sheets)
    con = engine.connect()
    try:
        landed_tables.prepare_landed(con)
        engine.insert(con, "landed.troops (troop)", [(code,) for code in troops])
        one.file_no = 1
        landed_rows.land_files(con, [Arrival(1, "", name, 0, now(), "", "submission")])
        rules = Rules(season, Mappings({}), _roster(beside) if beside else {})
        arrivals.judge(con, rules, [one], now(), lambda _what, _done, _of: None)
        found = _judged(con)
    finally:
        con.close()
    found.sheets = one.reading.sheets
    if beside and not found.is_held and found.troop and found.week_ending:
        found.questions = before_sending(season, beside, one, found.troop, found.week_ending, troops, landed)
    return found


def _roster(snapshot: Path) -> Roster:
    con = engine.connect(snapshot, read_only=True)
    try:
        return landed_rows.known_participants(con)
    finally:
        con.close()


def _judged(con: Connection) -> Preview:
    units = con.execute("select distinct troop, week_ending from landed.units where table_name = 'cover'").fetchall()
    troop, week_ending = units[0] if len(units) == 1 else (None, None)
    query = "select sheet, cell, found, expected, how, is_note from landed.findings order by is_note, rowid"
    findings = [Finding(**row) for row in engine.rows(con, query)]
    rows = {
        table.name: engine.rows(con, f"select * from landed.{table.name} order by row_no")
        for table in SUBMISSION_TABLES
    }
    return Preview("submission", troop, week_ending, findings, rows)


def changes(before: Rows, after: Rows) -> list[Change]:
    """What would be another value, table by table; a row that is missing on one side counts as nothing there."""
    found = []
    for table in SUBMISSION_TABLES:
        columns = [column for column in AMOUNTS if column in table.names]
        was, will = _by_key(table.name, before, columns), _by_key(table.name, after, columns)
        for of in sorted(was.keys() | will.keys()):
            for column in columns:
                one, other = was.get(of, {}).get(column), will.get(of, {}).get(column)
                if (one or None) != (other or None) or (column == "on_hand" and one != other):
                    found.append(Change(table.name, of, column, one, other))
    return found


def totals(before: Rows, after: Rows) -> list[Change]:
    """Every amount of every table added up, as it is and as it would be, but for those that are nothing."""
    found = []
    for table in SUBMISSION_TABLES:
        for column in (column for column in AMOUNTS if column in table.names and column not in OF_ONE):
            was, will = (_sum(rows.get(table.name, ()), column) for rows in (before, after))
            if was or will or (column == "on_hand" and was != will):
                found.append(Change(table.name, "", column, was, will))
    return found


def _amount(value: Any) -> Any:
    """A number as it is; of several numbers how many there are."""
    return len(value) if isinstance(value, list) else value


def _sum(rows: Sequence[Mapping[str, Any]], column: str) -> Any:
    stated = [_amount(row[column]) for row in rows if row[column] is not None]
    return sum(stated) if stated else None


def _by_key(table: str, rows: Rows, columns: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Sums of a table's amounts under what a person calls the row."""
    sums: dict[str, dict[str, Any]] = {}
    for row in rows.get(table, ()):
        parts = [
            row.get(name)
            for name in ("participant", "award", "date", "start", "place", "item", "direction", "other_troop")
        ]
        of = " ".join(str(part) for part in parts if part not in (None, ""))
        held = sums.setdefault(of, {})
        for column in columns:
            if row[column] is not None:
                held[column] = held.get(column, 0) + _amount(row[column])
    return sums
