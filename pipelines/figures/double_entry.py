"""The double entry set beside the measures: what it proves, and where the two part.

Comes in: a warehouse whose relations are computed (sql/6_ledger holds the postings). Goes out: a sentence of what was
proved, and a line for each thing that was found.
"""

from pipelines.store import engine
from pipelines.store.engine import Connection

OFF = {  # what must be nothing, and how it is said
    "trial_balance": "the trial balance is",
    "organisation_off": "the organisation's account is off what is owed by",
    "stock_off": "stock is off its measure by",
    "damaged_off": "damaged is off its measure by",
    "missing_off": "missing is off its measure by",
    "families_off": "what families owe is off its measure by",
    "sold_off": "packages sold are off their measure by",
    "charged_off": "packages charged are off their measure by",
    "divisor_off": "participants that the average divides by are off their measure by",
    "rate_off": "the proceeds' rate is off its measure by",
}


def places_proved(con: Connection) -> tuple[str, tuple[str, ...]]:
    """Whether every dollar and every package has its place, for each troop and day asked for."""
    found = engine.rows(
        con,
        "select as_of, troop, dollars_left, packages_left from ledger.identities "
        "where dollars_left <> 0 or packages_left <> 0 order by as_of, troop",
    )
    lines = [
        f"{row['troop']}, {row['as_of']}: {row['dollars_left']} in money and {row['packages_left']} packages left over."
        for row in found
    ]
    days, troops = con.execute("select count(distinct as_of), count(distinct troop) from ledger.identities").fetchall()[
        0
    ]
    return f"{troops:,} troops, {days} days: every dollar and every package has its place.", tuple(lines)


def balances_proved(con: Connection) -> tuple[str, tuple[str, ...]]:
    """Whether each trial balance is nil, the organisation's account is what is owed, and each other is its measure."""
    off = " or ".join(f"{name} <> 0" for name in OFF)
    nil = engine.rows(con, f"select * from ledger.identities where {off} order by as_of, troop")
    lines = [
        f"{row['troop']}, {row['as_of']}: "
        + ", ".join(f"{said} {row[name]}" for name, said in OFF.items() if row[name])
        + "."
        for row in nil
    ]
    apart = engine.rows(
        con,
        "select * from ledger.trial_balance where difference <> 0 or packages <> packages_measured "
        "or account is null order by as_of, troop, account, part",
    )
    lines += [
        f"{row['troop']}, {row['as_of']}, {row['account'] or 'no account'} {row['part'] or ''}: {row['balance']} by "
        f"its postings, {row['measured']} by its measure; {row['packages']} and {row['packages_measured']} packages."
        for row in apart
    ]
    postings, accounts, balances = con.execute(
        "select (select count(*) from ledger.postings), (select count(*) from ledger.accounts), "
        "(select count(*) from ledger.trial_balance)"
    ).fetchall()[0]
    proved = (
        f"{postings:,} postings to {accounts} accounts for each troop: every trial balance is nil, the organisation's "
        f"accounts are what is owed, and {balances:,} balances are what the measures say."
    )
    return proved, tuple(lines)
