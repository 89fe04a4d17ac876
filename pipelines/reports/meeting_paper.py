"""meeting.pdf: the area on one page for the meeting with leaders. It names no debt, and no troop.

Comes in: a Week. Goes out: a PDF: what was sold, week by week and item by item, how many take part, what comes next.
"""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from pipelines.definitions.measures import measure
from pipelines.reports.area_paper import STEPS, WEEKS
from pipelines.reports.statement import not_listed
from pipelines.reports.statement_tables import NOTHING, cut
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Row, Week, day, named_day, packages, per_cent

REMINDERS = (
    "Cash is best counted by two adults who are not related, and banked promptly.",
    "A week counts once its stock is counted: empty where nobody counted, 0 where none is left.",
    "Participants are codes: no names of children or buyers belong on a sheet, in notes neither.",
)


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """meeting.pdf."""
    if week.area:
        yield "meeting.pdf", pdf("meeting.typ", values(week))


def values(week: Week) -> dict[str, Any]:
    """All that the template says, as text and lists."""
    area, frame = week.area, week.season.season
    return {
        "paper": week.paper,
        "title": f"{cut(frame.area)}, week {week.week_no}: for the meeting",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "as_of": f"Week {week.week_no}, as of {day(week.as_of, weekday=True)}",
        "lead": _lead(area),
        "tiles": _tiles(area),
        "weeks": _weeks(week),
        "items": [_item(row) for row in week.item_totals if row["available"] or row["remote"]],
        "path": _path(area),
        "ahead": _ahead(week),
        "reminders": REMINDERS,
    }


def _lead(area: Row) -> str:
    if not area.get("packages_sold"):
        return "The sale has begun; the first packages are still to come."
    each = ""
    if area["taking_part"]:
        who = f"{area['taking_part']:,} taking part{not_listed(area)}"
        each = f", {area['average_per_active']:.0f} for each of the {who}"
    sold = f"Together we have sold {packages(area['packages_sold'])}{each}."
    return f"{sold} Thank you for every evening and every stall."


def _tiles(area: Row) -> list[list[str]]:
    pace = f"{per_cent(area['pace'])} of last season's by this week" if area["pace"] is not None else "in all troops"
    online = per_cent(area["online_share"]) or NOTHING
    return [
        ["Packages sold", packages(area["packages_sold"], word=False), pace, ""],
        ["Share taking part", per_cent(area["share"]) or NOTHING, f"of {area['registered']:,}", ""],
        ["Sell-through", per_cent(area["sell_through"]) or NOTHING, "of the packages we hold", ""],
        ["Online share", online, "of the packages sold", ""],
    ]


def _weeks(week: Week) -> list[list[Any]]:
    """Packages of each week: label, number as shown, number."""
    lines, before = [], 0
    for row in week.area_weeks:
        number = row["packages_sold"] - before
        before = row["packages_sold"]
        lines.append([f"Week {row['week_no']}", packages(number, word=False), number])
    return lines[-WEEKS:]


def _item(row: Row) -> list[str]:
    counts = ("available", "sold_from_stock", "remote", "on_hand_or_expected")
    shown = [packages(row[name], word=False) for name in counts]
    return [row["item"], cut(row["title"], 34), *shown, per_cent(row["sell_through"])]


def _path(area: Row) -> list[list[Any]]:
    """How far the registered participants have come: step, number as shown, number, part of the registered."""
    whole = area["step_registered"]
    return [
        [measure("area", name).label, f"{area[name]:,}", area[name], per_cent(area[name] / whole) if whole else ""]
        for name in STEPS
    ]


def _ahead(week: Week) -> list[str]:
    """The days that are the same for everybody: the next form, the next due date of the season."""
    next_form = week.season.week_ending(week.week_no) + timedelta(days=7)
    said = [f"{named_day(next_form)}: week {week.season.week_number(next_form)} ends; count, and send the form."]
    dues = [due.on for due in week.season.dues if due.on > week.as_of]
    if dues:
        said.append(f"{named_day(min(dues))}: the season's next due date.")
    last = week.season.season.last_day
    return [*said, f"{named_day(last)}: the sale's last day."] if last > week.as_of else said
