"""The second page of a statement: its items and its families, as text.

Comes in: a Week and a troop. Goes out: lines for the template; what a page has no room for is told.
"""

from decimal import Decimal
from typing import Any

from pipelines.reports.week import Row, Week, packages, per_cent

NOTHING = "\N{EN DASH}"
LONGEST = 60  # letters of a name; longer ones end in …
MOST_ITEMS = 12  # rows of the items' table; what has nothing to tell goes first
ONE_COLUMN = 33  # families that fit in one column
MOST_FAMILIES = 66  # rows of the families' table, in two columns from 34 on


def cut(text: str, longest: int = LONGEST) -> str:
    """A text short enough for its line."""
    return text if len(text) <= longest else f"{text[: longest - 1].rstrip()}…"


def items(week: Week, troop: str) -> dict[str, Any]:
    """Each item's packages, and their sums."""
    codes = week.season.codes
    rows = [row for row in week.items.get(troop, []) if row["available"] or row["remote"] or row["is_stocked"]]
    busy = sorted(rows, key=lambda row: -(row["available"] + row["remote"]))[:MOST_ITEMS]
    shown = [row for row in rows if row in busy] if len(rows) > MOST_ITEMS else rows
    lines = [
        [
            row["item"],
            cut(codes[row["item"]].title, 34),
            *(count(row[name]) for name in ("available", "sold_from_stock", "remote")),
            f"{count(row['on_hand_or_expected'])}{'' if row['on_hand'] is not None else '*'}"
            if row["is_stocked"]
            else "",
            "" if row["missing"] is None else count(row["missing"]),
            per_cent(row["sell_through"]),
        ]
        for row in shown
    ]
    standing = week.standing[troop]
    left = len(rows) - len(shown)
    counts = ("available", "sold_from_stock", "remote", "on_hand", "missing")
    summed = [
        "All",
        f"{left} more items not listed" if left else "",
        *(count(standing[name]) for name in counts),
        per_cent(standing["sell_through"]),
    ]
    uncounted = any(row["is_stocked"] and row["on_hand"] is None for row in shown)
    return {"lines": lines, "sum": summed, "note": "* not counted this week: what should be there" if uncounted else ""}


def families(week: Week, troop: str) -> dict[str, Any]:
    """Each family's packages, money and ages; those who owe most come first where there are too many."""
    rows = sorted(week.families.get(troop, []), key=lambda row: (row["participant"] == "troop", row["participant"]))
    shown = rows
    if len(rows) > MOST_FAMILIES:
        largest = sorted(rows, key=lambda row: (-row["owes"], row["participant"]))[:MOST_FAMILIES]
        shown = [row for row in rows if row in largest]
    names = ("charged", "paid", "owes", "owes_0_7", "owes_8_14", "owes_15_30", "owes_over_30")
    lines = [
        [
            "own page" if row["participant"] == "troop" else cut(row["participant"], 14),
            count(row["packages"]),
            *(_plain(week, row[name]) for name in names),
            _ahead(week, row),
        ]
        for row in shown
    ]
    sums = [_plain(week, sum((row[name] for row in rows), Decimal(0))) for name in names]
    ahead = _plain(week, sum((row["paid_ahead"] + row["overpaid"] for row in rows), Decimal(0)))
    summed = ["All", count(sum(row["packages"] for row in rows)), *sums, ahead]
    left = len(rows) - len(shown)
    return {"lines": lines, "sum": summed, "left": f"{left} more with less owing are in families.csv." if left else ""}


def count(number: int) -> str:
    return packages(number, word=False)


def _plain(week: Week, amount: Decimal) -> str:
    """An amount in a narrow column: no sign of the currency, a dash for nothing."""
    if amount == 0:
        return NOTHING
    return week.digits(amount).replace("-", "\N{MINUS SIGN}")


def _ahead(week: Week, row: Row) -> str:
    """What was paid ahead, and after it, marked, what was handed in beyond the charge."""
    return _plain(week, row["paid_ahead"] + row["overpaid"]) + ("†" if row["overpaid"] > 0 else "")
