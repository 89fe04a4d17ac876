"""A troop's account with the organisation over one week: what was owed before, each thing that came, what is owed now.

Comes in: a Week and a troop. Goes out: lines of day, what, amount, whose sum is what the statement says is owed.
"""

from decimal import Decimal

from pipelines.reports.week import Row, Week, short_day

MOST_LINES = 8  # of one week; what is smallest goes into one line together


def week_account(week: Week, troop: str) -> list[list[str]]:
    """From the balance before the week, line by line, to the balance at its end: day, what, amount."""
    lines = week.account_lines.get(troop, [])
    begins = week.begins_after
    before = sum((_net(row) for row in lines if row["on_day"] <= begins), Decimal(0))
    told = _told([row for row in lines if row["on_day"] > begins])
    owed = before + sum((amount for _day, _what, amount in told), Decimal(0))
    listed = [[day, what, week.money(amount)] for day, what, amount in told] or [["", "Nothing new this week", ""]]
    return [
        [short_day(begins), "Owed before this week", week.money(before)],
        *listed,
        [short_day(week.as_of), "Owed now", week.money(owed)],
    ]


def _net(row: Row) -> Decimal:
    return Decimal(row["charged"] - row["credited"])


def _told(rows: list[Row]) -> list[tuple[str, str, Decimal]]:
    """The lines of one kind and reference as one, in the order of their days; the smallest together where many."""
    by_kind: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        by_kind.setdefault((row["kind"], row["reference"] or ""), []).append(row)
    made = []
    for (kind, reference), same in by_kind.items():
        amount = sum(map(_net, same), Decimal(0))
        if amount:
            first = min(row["on_day"] for row in same)
            named = f", {reference}" if reference and kind != "proceeds" else ""
            made.append((first, f"{same[0]['what']}{named}", amount))
    made.sort(key=lambda one: (-abs(one[2]), one[1]))
    small = made[MOST_LINES - 1 :] if len(made) > MOST_LINES else []
    shown = sorted(made[: len(made) - len(small)])
    told = [(short_day(on), what, amount) for on, what, amount in shown]
    if small:
        told.append(("", f"{len(small)} smaller lines together", sum((one[2] for one in small), Decimal(0))))
    return told
