"""The sheet of stalls of rollup.xlsx: each stall with its hours, packages and takings, and how many worked it.

Comes in: a Week. Goes out: columns and rows; nobody's code is among them.
"""

from datetime import time
from decimal import Decimal

from pipelines.definitions.measures import Measure
from pipelines.reports.grid import Column
from pipelines.reports.week import Row, Week

COLUMNS = tuple(
    Column(one, is_summed=one.name in ("packages", "cash", "card", "gift"), width=24 if one.name == "place" else 0)
    for one in (
        Measure("date", "Day", "date", "The day of the stall."),
        Measure("start", "From", "code", "When it opened, where that is told."),
        Measure("end", "Until", "code", "When it closed, where that is told."),
        Measure("place", "Place", "code", "Where it stood."),
        Measure("packages", "Packages", "packages", "Packages sold there."),
        Measure("cash", "Cash and cheques", "money", "Cash and cheques taken, without the float."),
        Measure("card", "Card money", "money", "Card money taken into the troop's own bank, before fees."),
        Measure("gift", "Gifts", "money", "Money given without taking packages."),
        Measure("worked", "Worked it", "participants", "How many participants worked it."),
        Measure("hours", "Hours", "average", "From opening to closing, where both are told."),
    )
)


def stalls(week: Week) -> list[Row]:
    """One row a stall up to the day, by troop and day."""
    found: dict[tuple[object, ...], Row] = {}
    for row in week.figures.facts("stalls"):
        if row["week_ending"] > week.as_of or row["date"] is None:
            continue
        key = (row["troop"], row["date"], row["start"], row["place"], row["week_ending"])
        nothing = {"packages": 0, "cash": Decimal(0), "card": Decimal(0), "gift": Decimal(0), "who": set()}
        named = {"troop": row["troop"], "date": row["date"], "place": row["place"] or ""}
        one = found.setdefault(key, {**named, **nothing})
        one["start"], one["end"] = _clock(row["start"]), _clock(row["end"])
        one["hours"] = _hours(row["start"], row["end"])
        one["who"] |= set(row["participants"] or ())
        for name in ("packages", "cash", "card", "gift"):
            one[name] += row[name] or 0
    rows = [{**row, "worked": len(row["who"])} for row in found.values()]
    return sorted(rows, key=lambda row: (row["troop"], row["date"], row["start"], row["place"]))


def _clock(at: time | None) -> str:
    return f"{at:%H:%M}" if at else ""


def _hours(start: time | None, end: time | None) -> float | None:
    if start is None or end is None or end <= start:
        return None
    return (end.hour * 60 + end.minute - start.hour * 60 - start.minute) / 60
