"""ledger.beancount: the whole double entry as plain text, which other people's accounting programs read and check.

Comes in: Figures and a day. Goes out: text. One transaction an event, with the file, sheet and row it comes from; at
the end of every week each account is asserted to hold, to the cent, what the measures say, which are computed apart.
"""

import re
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from pipelines.figures.figures import Figures
from pipelines.reports.week import Week

Row = dict[str, Any]
PLAIN = re.compile(r"(?!Code-)[0-9A-Z][0-9A-Za-z-]*", re.ASCII)  # what may stand in an account's name as it is
ORGANISATION = "organisation_"
WHAT_IT_IS = (
    "; The double entry of the sale as plain text: every event with the file, sheet and row that it comes from.",
    "; The name's ending, .beancount, is an open format of bookkeeping: accounting programs that know it read and",
    "; check this file. Any editor shows it too; a line that begins with a semicolon is a remark.",
    "",
)
BY_PART = ("families", "stock", "damaged", "missing")  # accounts with one below them for each family or item


def named(code: str) -> str:
    """A code as a part of an account's name, no two alike; marks that must not stand there as their code points."""
    if PLAIN.fullmatch(code):
        return code
    marks = (mark if mark.isascii() and mark.isalnum() else f"-{ord(mark):x}-" for mark in code)
    return f"Code-{''.join(marks)}"


def quoted(text: str) -> str:
    """A text between quotation marks, on one line."""
    plain = " ".join(text.replace("\\", "\\\\").replace('"', '\\"').split())
    return f'"{plain}"'


class _Accounts:
    """The names of accounts: root, troop, account, family or item."""

    def __init__(self, listed: Iterable[Row]) -> None:
        self._roots = {row["account"]: row["root"] for row in listed}
        self._named: dict[tuple[str, str, str], str] = {}

    def name(self, troop: str, account: str, part: str) -> str:
        """The full name of an account."""
        key = (troop, account, part)
        if key not in self._named:
            below = account.removeprefix(ORGANISATION)
            levels = ["Organisation"] if below != account else []
            levels.append("".join(word.capitalize() for word in below.split("_")))
            levels += [named(part)] if part else []
            self._named[key] = ":".join([self._roots[account], named(troop), *levels])
        return self._named[key]

    def organisation(self, troop: str) -> str:
        """The account over all that stands with the organisation."""
        return f"Liabilities:{named(troop)}:Organisation"


def ledger_text(figures: Figures, as_of: date) -> str:
    """The ledger up to a day, with the balances of every day of the figures up to it."""
    rules = figures.rules()
    accounts = _Accounts(figures.accounts())
    postings = figures.evidence("postings", None, as_of).to_pylist()
    measured = figures.evidence("measured", None, as_of).to_pylist()
    owed = [row for row in figures.rows("standing") if row["as_of"] <= as_of]
    currency = rules["currency"]
    held = sorted({(row["troop"], row["account"], _part(row)) for row in postings} | {_key(row) for row in measured})
    first = min((row["on_day"] for row in postings), default=as_of)
    lines = [
        *WHAT_IT_IS,
        f'option "title" {quoted(rules["title"])}',
        f'option "operating_currency" "{currency}"',
        "",
        *_opened(accounts, held, {row["troop"] for row in owed}, first, currency),
        "",
        *_transactions(figures, accounts, postings, currency),
        *_balances(accounts, held, measured, currency),
        *(_balance(row["as_of"], accounts.organisation(row["troop"]), -row["owed"], currency) for row in owed),
    ]
    return "\n".join(lines) + "\n"


def _part(row: Row) -> str:
    """The family or item that an account is kept for."""
    account = row["account"]
    return (row["participant"] if account == "families" else row["item"]) if account in BY_PART else ""


def _key(row: Row) -> tuple[str, str, str]:
    return row["troop"], row["account"], row["part"]


def _opened(
    accounts: _Accounts, held: Iterable[tuple[str, str, str]], troops: Iterable[str], first: date, currency: str
) -> Iterator[str]:
    for troop in sorted(troops):
        yield f"{first} open {accounts.organisation(troop)} {currency}"
    for troop, account, part in held:
        yield f"{first} open {accounts.name(troop, account, part)} {currency}"
        yield f"  troop: {quoted(troop)}"
        if part:
            yield f"  {'participant' if account == 'families' else 'item'}: {quoted(part)}"


def _transactions(figures: Figures, accounts: _Accounts, postings: list[Row], currency: str) -> Iterator[str]:
    """One transaction for each row of a file and day that it counts from; its amounts by account."""
    kinds = {row["kind"]: row["what"] for row in figures.kinds()}
    names = figures.files.names({row["file_no"] for row in postings if row["file_no"] is not None})
    for (on_day, troop, file_no, sheet, row_no), together in groupby(postings, key=_event):
        rows = list(together)
        amounts: dict[str, Decimal] = {}
        for row in rows:
            account = accounts.name(troop, row["account"], _part(row))
            amounts[account] = amounts.get(account, Decimal(0)) + row["amount"]
        yield f"{on_day} * {quoted(troop)} {quoted(_said(rows, kinds))}"
        if file_no is not None:
            yield f"  file: {quoted(names[file_no])}"
            yield f"  sheet: {quoted(sheet)}"
            yield f"  row: {row_no}"
        for account, amount in amounts.items():
            yield f"  {account}  {amount:.2f} {currency}"
        yield ""


def _event(row: Row) -> tuple[Any, ...]:
    return row["on_day"], row["troop"], row["file_no"], row["sheet"], row["row_no"]


def _said(rows: list[Row], kinds: dict[str, str]) -> str:
    """What happened, in words: each kind with who and the reference, and what packages."""
    told: dict[str, dict[str, None]] = {}
    for row in rows:
        what = " ".join(part for part in (kinds[row["kind"]], row["participant"], row["reference"]) if part)
        packages = told.setdefault(what, {})
        if row["packages"] is not None and row["item"]:
            packages[f"{abs(row['packages'])} {row['item']}"] = None
    return "; ".join(f"{what}: {', '.join(packages)}" if packages else what for what, packages in told.items())


def _balances(
    accounts: _Accounts, held: list[tuple[str, str, str]], measured: list[Row], currency: str
) -> Iterator[str]:
    """Every account at every end of a week; nothing where no measure speaks of it."""
    for day, together in groupby(measured, key=lambda row: row["as_of"]):
        stands = {_key(row): row["balance"] for row in together}
        for key in held:
            yield _balance(day, accounts.name(*key), stands.get(key, Decimal(0)), currency)


def _balance(day: date, account: str, amount: Decimal, currency: str) -> str:
    """An assertion without tolerance; it is checked at the start of its day, so it stands on the next one."""
    return f"{day + timedelta(days=1)} balance {account}  {amount:.2f} ~ 0.00 {currency}"


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """ledger.beancount."""
    yield "ledger.beancount", ledger_text(week.figures, week.as_of).encode()
