"""The hand-over: one paper for whoever comes next, at the season's end or in the middle of it, with today's state.

Comes in: a Week of somebody who may see the whole area. Goes out: hand-over.pdf: how the book works, the calendar of
the year, each troop in three lines, the ten most pressing matters, what the figures say about next year.
"""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from pipelines.reports.closing import points_of
from pipelines.reports.statement_tables import cut
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Week, day, packages, per_cent, short_day

MATTERS = 10
WORKS = (
    "Each week every troop sends one workbook; the organisation hands over tables of what was supplied, ordered online "
    "and collected. All of it is taken in as it comes and kept; nothing is typed twice.",
    "What is wrong in a file is told by its cell and held until it is sent again or answered. Nothing held counts.",
    "A newer word on a week takes the older one's place. Both are kept; every earlier state can be looked at again.",
    "Every figure says how it is made, down to the cells. Where every dollar is adds up to the cent for every troop.",
    "Follow up lists what is worth a call, the most pressing first. What was promised and settled stands there too.",
    "At the season's end every troop is closed, confirmed by its leader and by you, and settled in one payment.",
)
CAUTIONS = (
    "An amount that is open is no proof of wrongdoing. Talk before you judge; most differences are late or mistyped "
    "records.",
    "Cash is counted by two adults who are not related, and banked promptly. Local rules and the organisation's own "
    "policy come first; nothing here is legal, tax or accounting advice.",
)


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """hand-over.pdf."""
    if week.area:
        yield "hand-over.pdf", pdf("hand_over.typ", values(week))


def values(week: Week) -> dict[str, Any]:
    """All that the template says, as text and lists."""
    frame = week.season.season
    return {
        "paper": week.paper,
        "title": f"{cut(frame.area)}: for whoever comes next",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "as_of": f"Week {week.week_no}, as of {day(week.as_of, weekday=True)}",
        "works": WORKS,
        "calendar": calendar(week),
        "troops": [_troop(week, code) for code in week.standing],
        "matters": _matters(week),
        "next_year": [*_items(week), *_places(week), *_weeks(week)],
        "cautions": CAUTIONS,
    }


def calendar(week: Week) -> list[list[str]]:
    """The days of the year that somebody must know, in order, those that are over too."""
    season = week.season
    ends = season.week_endings
    days = [
        (season.season.first_day, "The season begins."),
        (ends[0], f"The first of {len(ends)} weeks ends; troops send it within the days that follow."),
        *((due.on, f"{due.share:.0%} of what is owed is due in all.") for due in season.dues),
        (season.season.last_day, "The last day of the sale."),
        (season.close_by, "Every troop is closed and settled."),
        (season.season.last_day + timedelta(days=season.care.keep_days),
         "Until then participants' rows are kept; after it they are removed."),
    ]  # fmt: skip
    for when, what in (
        (season.plan.order_until, "The last day to order from the depot."),
        (season.plan.hand_back_until, "Until then whole cases go back."),
    ):
        if when:
            days.append((when, what))
    return [[day(when), what, "over" if when <= week.as_of else ""] for when, what in sorted(days)]


def _troop(week: Week, code: str) -> list[str]:
    """A troop in three lines: who, what it sold and owes, what is open."""
    row, known, money = week.standing[code], week.troops[code], week.money
    who = ", ".join(cut(known[name], 40) for name in ("leader", "phone", "email") if known[name])
    part = (
        f"{row['taking_part']} taking part, {row['registered']} registered"
        if row["registered"]
        else "nobody registered"
    )
    stands = (
        f"{packages(row['packages_sold'])} sold; {part}. Owes {money(row['owed'])}"
        + (f", {money(row['past_due'])} past due" if row["past_due"] else "")
        + f"; families owe {money(row['families_owe'])}."
    )
    listed = week.exceptions.get(code, [])
    open_now = cut(listed[0]["what"], 150) if listed else "Nothing to follow up."
    more = f" And {len(listed) - 1} more." if len(listed) > 1 else ""
    return [code, who or "No leader is named.", stands, open_now + more]


def _matters(week: Week) -> list[list[str]]:
    """The most pressing of all that is open, in every troop; then what of the closing is the coordinator's own."""
    rows = sorted((row for rows in week.exceptions.values() for row in rows), key=lambda row: -row["weight"])
    told = [[row["troop"], cut(row["what"], 240), cut(row["next_step"], 160)] for row in rows[:MATTERS]]
    if len(told) < MATTERS and week.as_of >= week.season.week_endings[-1]:
        own = [one for code in week.standing for one in points_of(week, code) if one["who"] == "coordinator"]
        told += [[one["troop"], one["what"], f"By {short_day(one['by_on'])}."] for one in own[: MATTERS - len(told)]]
    return told


def _items(week: Week) -> list[str]:
    """Of each stocked item what was ordered, and how much of it went."""
    return [
        f"{cut(row['title'], 40)}: {packages(row['available'])} supplied, {per_cent(row['sell_through']) or 'none'} of "
        f"them sold from stock, {packages(row['on_hand_or_expected'])} on hand."
        for row in week.item_totals
        if row["is_stocked"] and row["available"]
    ]


def _places(week: Week) -> list[str]:
    """What an hour at the places whose stalls are known well enough brought, in the order of their names."""
    titles = {row["place"]: row["title"] for row in week.figures.stalls.calendar(week.as_of)}
    known = [
        (cut(titles.get(row["place"], row["place"]), 40), row)
        for row in week.figures.rows("place_yields", week.as_of)
        if not row["part_of_day"] and row["takings_an_hour"] is not None
    ]
    return [
        f"Stalls at {title}, {row['timed']} of them: about {_whole(week, row['takings_an_hour'])} an hour, half of "
        f"them between {_whole(week, row['low'])} and {_whole(week, row['high'])}."
        for title, row in sorted(known, key=lambda one: one[0])
    ]


def _whole(week: Week, amount: float) -> str:
    return f"{week.sign}{amount:,.0f}"


def _weeks(week: Week) -> list[str]:
    """The week that sold most, and the one that sold least."""
    sold, before = [], 0
    for row in week.area_weeks:
        sold.append((row["packages_sold"] - before, row["week_no"]))
        before = row["packages_sold"]
    if len(sold) < 2:
        return []
    most, least = max(sold), min(sold)
    return [
        f"Week {most[1]} sold most, {packages(most[0])}; week {least[1]} least, {packages(least[0])}. A week counts "
        "what was reported in it."
    ]
