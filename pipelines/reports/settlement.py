"""A troop's settlement: one page that says what is left between it and the organisation, and what is still open.

Comes in: a Week from the season's end on. Goes out: a PDF, settlement/<troop>.pdf, for the leader and the coordinator
to sign. Money passes between a troop and the organisation alone, so one payment a troop, of all that is open, is the
fewest there can be; what is being collected already is not asked for again.
"""

from collections.abc import Iterator
from typing import Any

from pipelines.reports.closing import due_rows, payment, points_of
from pipelines.reports.statement_tables import cut
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Row, Week, day, file_name, rate, short_day

WHO = {"leader": "The leader", "coordinator": "The coordinator", "organisation": "The organisation"}
STATES = {
    "open": "Not closed yet: something is still to do.",
    "ready": "Ready to be closed.",
    "closed": "Closed; the proceeds are final once the leader and the coordinator have both confirmed it.",
    "final": "Closed and confirmed by both sides: the proceeds are final.",
}
CAUTIONS = (
    "An amount that is open is no proof of wrongdoing. A debt handed over stays a family's own account with the "
    "organisation: receipts stay with the leader, and only codes are named here.",
    "Keep this paper to those who need it. Local rules and the organisation's own policy come first; nothing here is "
    "legal, tax or accounting advice.",
)


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """settlement/<troop>.pdf, of each troop whose season ends."""
    for row in due_rows(week):
        yield f"settlement/{file_name(row['troop'])}.pdf", pdf("settlement.typ", values(week, row))


def settlement(week: Week, troop: str) -> bytes:
    """One troop's settlement, whatever the week."""
    row = next(one for one in week.figures.rows("closing", week.as_of, troop))
    return pdf("settlement.typ", values(week, row))


def values(week: Week, row: Row) -> dict[str, Any]:
    """All that the template says, as text and lists."""
    troop = row["troop"]
    week = week.as_closed(troop)
    frame = week.season.season
    closed = f"Closed as of {day(row['closed_as_of'])}. " if row["close_no"] is not None else ""
    return {
        "paper": week.paper,
        "title": f"Settlement of troop {troop}",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "troop": cut(troop),
        "as_of": f"{closed}As of {day(week.as_of, weekday=True)}",
        "lead": payment(week, row),
        "state": STATES[row["state"]],
        "account": _account(week, row),
        "points": [[WHO[one["who"]], short_day(one["by_on"]), one["what"]] for one in points_of(week, troop)],
        "debts": [_debt(week, one) for one in week.figures.rows("debts", week.as_of, troop)],
        "confirmed": [row["confirmed_by_leader"] or "", row["confirmed_by_coordinator"] or ""],
        "cautions": CAUTIONS,
    }


def _account(week: Week, row: Row) -> list[list[str]]:
    """From what was charged to what is paid; each line the one before plus or less what it names."""
    money = week.money
    standing = week.standing[row["troop"]]
    lines = [
        ["Charged", money(row["charged"])],
        [f"Less proceeds, {week.sign}{rate(standing['proceeds_rate'])} a package", money(-row["proceeds"])],
        ["Less what was paid and credited", money(-row["credits"])],
        ["Owed", money(row["owed"])],
    ]
    if row["with_organisation"]:
        lines.append(["Less debts that the organisation has taken over", money(-row["with_organisation"])])
    if row["being_collected"]:
        lines.append(["Less what is being collected already", money(-row["being_collected"])])
    verb = "The troop pays" if row["pays"] >= 0 else "The troop gets"
    return [*lines, [verb, money(abs(row["pays"]))]]


def _debt(week: Week, row: Row) -> list[str]:
    came = f"; {week.money(row['came_in'])} came in since" if row["came_in"] else ""
    return [row["participant"], week.money(row["amount"]), short_day(row["handed_on"]), f"{row['state']}{came}"]
