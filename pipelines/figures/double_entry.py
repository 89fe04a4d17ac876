"""The double entry set beside the measures: what it proves, and where the two part.

Comes in: a warehouse whose relations are computed (sql/6_ledger holds the postings). Goes out: a sentence of what was
proved, and a line for each thing that was found.

Why it is so. The ledger's relations are views: nothing is computed at publishing, and a reader who asks for one troop
pays for one troop. ledger.kinds is the whole chart in one place: each kind of event names the account its amount goes
to and the one it comes from, so an event cannot be posted one-sidedly, and there is no account that takes up what is
left. entries has one row for each number in a cell that counts; counts and proceeds are the two that are worked out;
postings makes two rows of each event. None of it reads the measures: measured is what they say, trial_balance and
identities set the two side by side. An event of a kind that is not listed is found by `verify`.

Each troop has accounts for stock, damaged and missing (an item its own, packages at their price: on_hand_value,
damaged_value, missing_value), families (a family its own: owes), cash (not_banked), bank (in_bank), stall_short (sold
at stalls less takings), the organisation's six, together a liability (-owed; one by one -charged, proceeds,
paid_online, remitted, settled_otherwise, adjustments less settled_otherwise), and its gains (-proceeds, -adjustments
that settle no family). Paid online, remitted, settled otherwise and adjusted are parts of the organisation's account
and not beside it: only so is its balance -owed with nothing left over.

What a troop never holds (a donation) is charged when it is handed out or sold. A posted or donated order is charged and
paid at once, both with the organisation. What a count shows holds for its day alone: it is posted on the week's end and
taken back the next day. Proceeds are posted at every week's end by as much as they changed, from packages, people and
tier counted out of the ledger's own entries.
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
