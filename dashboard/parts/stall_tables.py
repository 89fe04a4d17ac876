"""Slots as people read them, and how the stalls of a place did, as a picture and in words.

Comes in: rows of the calendar, of measures.place_yields and of facts.stall_hours. Goes out: lines, a frame, a chart.
"""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

import altair as alt
import polars as pl

from dashboard.data.snapshots import Row
from dashboard.parts import words

STATES = {"given": "given", "open": "free", "given_back": "given back", "not_held": "not held"}
PARTS = ("morning", "afternoon", "evening")
ROW = 26


def hours(row: Row) -> str:
    """`Sat 27 Mar, 09:00 to 11:00`."""
    return f"{words.day(row['date'])}, {row['start']:%H:%M} to {row['until']:%H:%M}"


def ahead(rows: Sequence[Row], troop: str, after: date) -> list[Row]:
    """The slots of a troop after a day, the next one first, as the calendar has them."""
    return [row for row in rows if row["date"] > after and row["troop"] == troop and row["state"] == "given"]


def said(row: Row) -> str:
    """A slot in one line, as a list to choose from shows it."""
    prime = ", wanted by many" if row["is_prime"] else ""
    return f"{hours(row)}: {row['title']}{prime}"


def frame(rows: Sequence[Row], whose: bool = True) -> pl.DataFrame:
    """Slots as a table: day, hours, place, town, and whose they are."""
    told = [
        [
            row["date"],
            f"{row['start']:%H:%M} to {row['until']:%H:%M}",
            row["title"],
            row["town"] or "",
            state(row, whose),
        ]
        for row in rows
    ]
    return pl.DataFrame(told, schema=["Day", "Hours", "Place", "Town", "Whose"], orient="row")


def state(row: Row, whose: bool = True) -> str:
    """Whose a slot is, or how it stands; of another's slot a leader sees that it is taken."""
    if row["state"] != "given":
        return STATES[row["state"]]
    mark = "" if row["is_permitted"] else " ? no permission that day"
    if row["troop"]:
        return f"troop {row['troop']}{mark}" if whose else f"yours{mark}"
    return "taken"


def spread(stalls: Sequence[Row], yields: Sequence[Row], titles: dict[str, str]) -> Any:
    """Takings an hour of each stall as a tick, by place in the order of the alphabet, with the middle as a diamond."""
    known = {row["place"] for row in yields if not row["part_of_day"] and row["takings_an_hour"] is not None}
    ticks = [
        {"place": titles.get(row["place"], row["place"]), "dollars": float(row["takings_an_hour"]),
         "part": row["part_of_day"] or ""}
        for row in stalls
        if row["place"] in known
    ]  # fmt: skip
    middles = [
        {"place": titles.get(row["place"], row["place"]), "dollars": row["takings_an_hour"], "stalls": row["timed"]}
        for row in yields
        if row["place"] in known and not row["part_of_day"]
    ]
    schema: dict[str, Any] = {"place": pl.String, "dollars": pl.Float64}
    y = alt.Y("place:N", axis=alt.Axis(title=None, labelLimit=170, labelFontSize=13, ticks=False, domain=False))
    x = alt.X("dollars:Q", title="Takings an hour", axis=alt.Axis(labelFontSize=13, titleFontSize=13, tickCount=5))
    one = alt.Chart(pl.DataFrame(ticks, schema=schema | {"part": pl.String}))
    ticked = one.mark_tick(thickness=2, size=14, opacity=0.65).encode(
        x=x, y=y, tooltip=[alt.Tooltip("dollars:Q", format=",.2f", title="Takings an hour"),
                           alt.Tooltip("part:N", title="Part of the day")],
    )  # fmt: skip
    middle = alt.Chart(pl.DataFrame(middles, schema=schema | {"stalls": pl.Int64}))
    diamond = middle.mark_point(shape="diamond", size=110, filled=True).encode(
        x=x, y=y, color=alt.value("#D55E00"),
        tooltip=[alt.Tooltip("dollars:Q", format=",.2f", title="Middle"), alt.Tooltip("stalls:Q", title="Stalls")],
    )  # fmt: skip
    return alt.layer(ticked, diamond).properties(height=ROW * max(len(known), 1) + 60)


def spread_said(yields: Sequence[Row], titles: dict[str, str], currency: str) -> str:
    """The same in words."""
    parts = [
        f"{titles.get(row['place'], row['place'])} {_money(row['takings_an_hour'], currency)} of {row['timed']} stalls"
        for row in yields
        if not row["part_of_day"] and row["takings_an_hour"] is not None
    ]
    return f"Middle takings an hour by place: {', '.join(parts) or 'not known yet'}."


def _money(amount: float, currency: str) -> str:
    return words.money(Decimal(str(round(amount, 2))), currency)
