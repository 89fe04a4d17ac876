"""A troop's packing list: for each participant, by order and item, a box to tick and what to fetch from the troop.

Comes in: a Week and a troop. Goes out: a PDF. No name and no address stand in it: an order's number leads to them where
the organisation keeps them.
"""

from datetime import date
from itertools import groupby
from typing import Any

from pipelines.definitions.contract import OWN_PAGE
from pipelines.reports.statement_tables import cut
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Row, Week, day, packages

ON_PAPER = "on paper"
ALL_KNOWN = date.max  # the day of rows that hold by all that is known, whatever the day
CAUTIONS = (
    "Participants are codes. The order's number leads to the buyer where the organisation keeps names and addresses: "
    "they stay there. Two adults go along when young people deliver, as your organisation's own rules say.",
)


def packing_list(week: Week, troop: str) -> bytes:
    """The list as a PDF."""
    return pdf("packing.typ", values(week, troop))


def to_pack(rows: list[Row]) -> list[Row]:
    """Of a troop's rows of packing what is to pack; promises on paper only as far as they are to be fetched."""
    return [row for row in rows if row["order_no"] or row["to_fetch"]]


def totals(rows: list[Row], items: dict[str, Any]) -> list[tuple[Any, int, int, int]]:
    """Of each item that is to be fetched: the item, packages, full cases and loose ones, in the season's order."""
    found = []
    for code, item in items.items():
        number = sum(row["to_fetch"] for row in rows if row["item"] == code)
        if number:
            found.append((item, number, *divmod(number, item.packages_per_case)))
    return found


def in_cases(cases: int, loose: int) -> str:
    """2 cases and 3 loose."""
    full = f"{cases} case{'' if cases == 1 else 's'}"
    return f"{full} and {loose} loose" if cases and loose else full if cases else f"{loose} loose"


def values(week: Week, troop: str) -> dict[str, Any]:
    """All that the template says, as text and lists."""
    is_latest = week.as_of == week.figures.days()[-1]
    rows = to_pack(week.figures.rows("packing", ALL_KNOWN if is_latest else week.as_of, troop))
    frame, items = week.season.season, week.season.codes
    fetch = sum(row["to_fetch"] for row in rows)
    orders = len({row["order_no"] for row in rows if row["order_no"]})
    people = []
    for who, grouped in groupby(rows, key=lambda row: row["participant"]):
        own = list(grouped)
        to_fetch = sum(row["to_fetch"] for row in own)
        told = f"To fetch from the troop: {packages(to_fetch)}." if to_fetch else "Nothing to fetch: all is there."
        listed = [
            [cut(row["order_no"] or ON_PAPER), row["item"], items[row["item"]].title, str(row["packages"]),
             str(row["to_fetch"]) if row["to_fetch"] else ""]
            for row in own
        ]  # fmt: skip
        people.append([cut("The troop's own page" if who == OWN_PAGE else who), told, listed])
    return {
        "paper": week.paper,
        "title": f"Packing list of troop {troop}, week {week.week_no}",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "troop": cut(troop),
        "as_of": f"Troop {cut(troop)}, week {week.week_no}, as of {day(week.as_of, weekday=True)}",
        "lead": f"{packages(fetch)} to fetch from the troop; {orders} online order{'' if orders == 1 else 's'} to pack."
        if rows else "Nothing to pack: every order is delivered, and nothing promised is left to fetch.",
        "total": [[item.code, item.title, str(number), in_cases(cases, loose)]
                  for item, number, cases, loose in totals(rows, items)],
        "people": people,
        "cautions": CAUTIONS,
    }  # fmt: skip
