"""A bank's statement → its lines shown first, and only the chosen ones taken in; the statement itself is never kept.

Comes in: a statement (OFX/QFX, camt.053), or a table of lines in the contract's headers or through a mapping; which
troops' accounts may be read. Goes out: Lines with the troop each belongs to and what of the book it answers; a table
bank_lines of those chosen, taken in like any other file. An account may hold other money than the sale's, and be a
person's own: what is not chosen leaves no trace.
"""

import csv
import io
import tempfile
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.definitions.feeds import BANK_LINES
from pipelines.definitions.limits import BULK, TROOP
from pipelines.definitions.records import Finding, Sheet
from pipelines.figures.computing import compute
from pipelines.intake.elsewhere.read_through import Given, take_mapped
from pipelines.intake.files.extent import over_limit
from pipelines.intake.files.readers import Reader, finding_of
from pipelines.intake.files.statements import STATEMENT
from pipelines.intake.judging.checks import judge_raw
from pipelines.intake.judging.judge import Known
from pipelines.intake.judging.tables import recognised, take_table
from pipelines.landing import kept_mappings
from pipelines.store import engine, landed_tables
from pipelines.store.book import Book
from pipelines.store.engine import Connection
from pipelines.workflow import take_in
from pipelines.workflow.take_in import Outcome

LAST = 4  # characters of an account's number that the list of troops holds
ANSWERS = ("matched", "matched together")


@dataclass(frozen=True)
class Line:
    """One line as it is shown: `answers` says what of the book it answers, `is_kept` whether it came in before."""

    troop: str
    line: str
    date: date
    amount: Decimal
    reference: str
    text: str
    kind: str
    answers: str = ""
    is_kept: bool = False

    @property
    def is_the_sales(self) -> bool:
        """Whether it answers something in the book, so that it is chosen unless somebody says otherwise."""
        return bool(self.answers)


def lines_of(
    book: Book, path: Path, name: str, *, troop: str = "", own: Collection[str] | None = None
) -> tuple[list[Line], list[Finding]]:
    """The lines of a statement, and what is to be told of it; nothing is kept.

    `troop`: whose account it is, where the list of troops does not tell. `own`: the only troops it may be of. Raises
    Stop where it cannot be told whose lines they are, or they are another's.
    """
    limits = BULK if own is None else TROOP
    with Reader(limits) as reader:
        reading = reader.read(path, name)
    over = over_limit(reading.sheets, limits)
    if over or not reading.sheets:
        told = finding_of(over) if over else reading.findings[0]
        raise Stop(f"{name}: {told.found}. {told.how}")
    with book.reading() as con:
        troops = engine.rows(con, "select troop, account from facts.troops order by troop")
    if troop and troop not in {row["troop"] for row in troops}:
        raise Stop(f"There is no troop {troop} in this book.")
    sheet = reading.sheets[0]
    if sheet.name == STATEMENT:
        found = _of_statement(book, sheet, [*_accounts(troops)], troop, own)
    else:
        found = _of_table(
            book, sheet, (name, sha256(path.read_bytes()).hexdigest()), [row["troop"] for row in troops], troop
        )
    if own is not None and any(one.troop not in own for one in found):
        raise Stop("This is not the account of a troop of yours.")
    return _answered(book, found), [one for one in reading.findings if one.is_note]


def _accounts(troops: Iterable[dict[str, Any]]) -> list[tuple[str, str]]:
    return [(row["troop"], _last(row["account"])) for row in troops if row["account"]]


def _last(account: str) -> str:
    return "".join(mark for mark in account.upper() if mark.isalnum())[-LAST:]


def _of_statement(
    book: Book, sheet: Sheet, accounts: Sequence[tuple[str, str]], stated: str, own: Collection[str] | None
) -> list[Line]:
    """The lines of a statement's one sheet, which the reader of statements has made sound."""
    whose: dict[str, str] = {}
    out = []
    currency = book.season().season.currency
    rows: list[list[Any]] = (sheet.rows or [])[1:]
    for account, coin, line, day, amount, reference, text, kind in rows:
        if coin and coin != currency:
            raise Stop(f"This account is kept in {coin}; the season's money is {currency}.")
        if account not in whose:
            whose[account] = _troop_of(account, accounts, stated, own)
        out.append(Line(whose[account], line, day, Decimal(amount), reference, text, kind))
    return out


def _troop_of(account: str, accounts: Sequence[tuple[str, str]], stated: str, own: Collection[str] | None) -> str:
    """The troop of an account: the one whose last four characters these are, else the one stated."""
    fits = [troop for troop, last in accounts if last == _last(account)]
    if own is not None and fits and not set(fits) & set(own):
        raise Stop("This is not the account of a troop of yours.")
    fits = [troop for troop in fits if own is None or troop in own]
    if len(fits) == 1 and stated in ("", fits[0]):
        return fits[0]
    if stated and (not fits or stated in fits):
        return stated
    shown = f"the account ending in {_last(account)}" if account else "an account without a number"
    if stated:
        raise Stop(f"The list of troops says that {shown} is troop {fits[0]}'s, not troop {stated}'s.")
    raise Stop(f"The list of troops does not tell whose {shown} is. Say which troop's it is.")


def _of_table(book: Book, sheet: Sheet, file: tuple[str, str], known: Sequence[str], stated: str) -> list[Line]:
    """The lines of a table in the contract's headers, or read through a mapping; every cell must be right."""
    name, digest = file
    season, head = book.season(), recognised(sheet)
    if head and head.table is BANK_LINES:
        raw, findings = take_table(1, sheet, head)
    else:
        mappings = kept_mappings.holding(kept_mappings.stated(book))
        through = [(at, one) for at, names in mappings.for_sheet(sheet, digest) for one in names]
        through = [(at, one) for at, one in through if mappings.named[one].table == BANK_LINES.name]
        if not through:
            raise Stop(
                f"{name} is no statement (OFX, camt.053) and has no headers known for lines of a bank. "
                "Say how its columns are read: `musterbook map`."
            )
        at, mapping = through[0]
        raw, findings = take_mapped(Given(mapping, mappings.named[mapping], season, 1), sheet, at)
    if stated and "troop" not in raw.columns:
        raw.columns["troop"] = [stated] * len(raw)
    judged = judge_raw(raw, Known(season, frozenset(known)))
    wrong = [one for one in [*findings, *(finding for _row, finding in judged.findings)] if not one.is_note]
    if wrong:
        raise Stop(f"{name}, {wrong[0].cell}: {wrong[0].found}. {wrong[0].how}")
    return [_line(row) for row in judged.rows.select(BANK_LINES.names).to_pylist()]


def _line(row: dict[str, Any]) -> Line:
    told: dict[str, Any] = {name: "" if row[name] is None else row[name] for name in BANK_LINES.names}
    return Line(**told)


def _answered(book: Book, lines: Sequence[Line]) -> list[Line]:
    """The lines with what each would answer if it came in, beside those that did."""
    if not lines:
        return []
    with book.holding() as snapshot:
        con = landed_tables.look_back(snapshot)
        try:
            kept = {
                (row["troop"], row["line"]) for row in engine.rows(con, "select troop, line from landed.bank_lines")
            }
            fresh = [one for one in lines if (one.troop, one.line) not in kept]
            found = _looked_over(con, book, fresh)
        finally:
            con.close()
    return [
        replace(one, answers=found.get((one.troop, one.line), ""), is_kept=(one.troop, one.line) in kept)
        for one in lines
    ]


def _looked_over(con: Connection, book: Book, lines: Sequence[Line]) -> dict[tuple[str, str], str]:
    """What each line answers, in a warehouse that is thrown away."""
    con.execute("create table landed.arriving as from landed.bank_lines limit 0")
    engine.insert(
        con, "landed.arriving (unit_no, file_no, sheet, row_no, troop, line, date, amount, reference, text, kind)",
        [(-1, 2**30, "", place, one.troop, one.line, one.date, one.amount, one.reference, one.text, one.kind or None)
         for place, one in enumerate(lines)],
    )  # fmt: skip
    con.execute(
        "create or replace view landed.bank_lines as from snapshot.landed.bank_lines union all from landed.arriving"
    )
    con.execute(
        "create or replace view landed.units as from snapshot.landed.units union all by name "
        "select -1 as unit_no, 'bank_lines' as table_name, timestamp '2000-01-01' as accepted_at"
    )
    reported = con.execute("select max(week_ending) from landed.units").fetchall()[0][0]
    as_of = max([one.date for one in lines] + ([reported] if reported else []), default=date.min)
    compute(con, book.season(), [as_of], only=frozenset({"measures.bank"}))
    rows = engine.rows(con, "select troop, line, answers, state from measures.bank where line <> ''")
    return {(row["troop"], row["line"]): row["answers"] for row in rows if row["state"] in ANSWERS}


def keep(
    book: Book,
    chosen: Sequence[Line],
    sender: str,
    *,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _of: None,
    on_wait: Callable[[str], None] = lambda _said: None,
) -> Outcome:
    """Takes the chosen lines in, as a table of their own; raises Stop where there are none."""
    fresh = [one for one in chosen if not one.is_kept]
    if not fresh:
        raise Stop("No line is chosen that is not kept already.")
    troops = sorted({one.troop for one in fresh})
    first, last = min(one.date for one in fresh), max(one.date for one in fresh)
    with tempfile.TemporaryDirectory(prefix="musterbook-bank-") as folder:
        whose = "".join(m if m.isalnum() else "_" for m in troops[0]) if len(troops) == 1 else f"{len(troops)} troops"
        path = Path(folder) / f"bank lines {whose} {first} to {last}.csv"
        path.write_bytes(as_table(fresh))
        return take_in.ingest(book, [path], sender, progress=progress, on_wait=on_wait)[0]


def as_table(lines: Iterable[Line]) -> bytes:
    """The lines as a CSV table of the contract."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(BANK_LINES.names)
    writer.writerows([getattr(one, name) for name in BANK_LINES.names] for one in lines)
    return out.getvalue().encode()
