"""The stalls' calendar for people's own calendars (RFC 5545), and which places pay: stalls.csv.

Comes in: a Week. Goes out: stalls.ics of the area, stalls/<troop>.ics, stalls.csv. Hours are local, without a zone, as
the book has none; nobody's name or code stands in them but the troop's, and no participant's times.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

import icalendar

from pipelines.reports.csv_tables import written
from pipelines.reports.week import Row, Week, file_name

PLACES = ("place", "part_of_day", "stalls", "packages_an_hour", "takings_an_hour")
STATES = {"given": "CONFIRMED", "open": "TENTATIVE", "given_back": "CANCELLED", "not_held": "CANCELLED"}


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """stalls.ics and one a troop, where slots are known; stalls.csv, where a place is known well enough."""
    rows = week.figures.stalls.calendar(week.as_of)
    if rows:
        yield "stalls.ics", calendar(week, rows)
    for troop in sorted({row["troop"] for row in rows if row["troop"] and row["state"] == "given"}):
        yield f"stalls/{file_name(troop)}.ics", calendar(week, rows, troop)
    yields = [row for row in week.figures.rows("place_yields", week.as_of) if row["packages_an_hour"] is not None]
    if listed := [row for row in yields if row["part_of_day"]]:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(PLACES)
        writer.writerows([written(row[name]) for name in PLACES] for row in listed)
        yield "stalls.csv", out.getvalue().encode()


def stalls_of(week: Week, troop: str = "") -> bytes:
    """The iCalendar of one troop, or of the area."""
    return calendar(week, week.figures.stalls.calendar(week.as_of), troop)


def calendar(week: Week, rows: Sequence[Row], troop: str = "") -> bytes:
    """An iCalendar of a troop's slots, or of all of them; the same bytes for the same book, week and time."""
    frame = week.season.season
    made = icalendar.Calendar()
    made.add("prodid", "-//Musterbook//Stalls//EN")
    made.add("version", "2.0")
    made.add("x-wr-calname", f"Stalls of troop {troop}" if troop else f"Stalls, {frame.area}")
    stamp = (week.known_on or datetime.combine(week.as_of, datetime.min.time())).replace(microsecond=0, tzinfo=UTC)
    for row in rows:
        if not troop or (row["troop"] == troop and row["state"] == "given"):
            made.add_component(_event(row, stamp, str(frame.first_day), in_area=not troop))
    return bytes(made.to_ical())


def _event(row: Row, stamp: datetime, season: str, *, in_area: bool) -> icalendar.Event:
    event = icalendar.Event()
    event.add("uid", f"{row['slot']}-{season}@musterbook.invalid")
    event.add("dtstamp", stamp)
    event.add("dtstart", datetime.combine(row["date"], row["start"]))
    event.add("dtend", datetime.combine(row["date"], row["until"]))
    who = f"Troop {row['troop']}" if row["troop"] and row["state"] == "given" else row["state"].replace("_", " ")
    event.add("summary", f"{row['title']}: {who}" if in_area else f"Stall at {row['title']}")
    event.add("location", ", ".join(part for part in (row["title"], row["town"]) if part))
    event.add("status", STATES[row["state"]])
    return event
