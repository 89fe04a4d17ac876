"""What would become of a file from elsewhere under a mapping: taken in as any file is, in a warehouse thrown away.

Comes in: a book, a landed file with its sheets, the mappings as they would hold. Goes out: how many rows there are, how
many would be held, and every finding, what is to mend first. Nothing lands.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipelines.definitions.contract import TABLES
from pipelines.definitions.records import Finding, Reading, Sheet
from pipelines.landing import arrivals, landed_rows
from pipelines.landing.arrivals import Opened, Rules
from pipelines.store import engine
from pipelines.store.book import Book, now
from pipelines.store.landed_tables import LANDED, look_back
from pipelines.workflow.publishing import silent


@dataclass(frozen=True)
class Rehearsed:
    """What taking a file in would do."""

    rows: int
    rows_held: int
    findings: tuple[Finding, ...]


def rehearsed(book: Book, file: tuple[int, str, str], sheets: Sequence[Sheet], rules: Rules) -> Rehearsed:
    """Takes a landed file (its number, name, SHA-256) in once more by these rules, beside what is published."""
    file_no, name, sha256 = file
    one = Opened(name, sha256, 0, Path(), file_no, Reading(list(sheets)))
    arrivals.translate([one], rules)
    with book.holding() as snapshot:
        con = look_back(snapshot)
        try:
            for table in (set(LANDED) - set(TABLES)) | {raw.table.name for raw in one.tables}:  # what judging writes
                con.execute(f"drop view landed.{table}")
                con.execute(f"create table landed.{table} as from snapshot.landed.{table}")
            landed_rows.forget_verdict(con, [file_no], now())
            arrivals.judge(con, rules, [one], now(), silent)
            units = con.execute(
                "select coalesce(sum(rows_read), 0), coalesce(sum(rows_read) filter (accepted_at is null), 0) "
                "from landed.units where file_no = ?", [file_no]
            ).fetchall()  # fmt: skip
            query = (
                "select sheet, cell, found, expected, how, is_note from landed.findings "
                "where file_no = ? and ended_at is null order by is_note, rowid"
            )
            findings = tuple(Finding(**row) for row in engine.rows(con, query, [file_no]))
        finally:
            con.close()
    return Rehearsed(int(units[0][0]), int(units[0][1]), findings)
