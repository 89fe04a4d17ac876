"""The area on two pages, for the coordinator's own meeting: how it stands, whom to call, who owes, who is left out.

Comes in: a Week of somebody who may see the whole area. Goes out: area.pdf; every figure is one of the area, of
standing.csv or of exceptions.csv.
"""

from collections.abc import Iterator
from typing import Any

from pipelines.definitions.measures import measure
from pipelines.follow_up.first_calls import first_calls
from pipelines.reports.dollar_places import total, total_label
from pipelines.reports.next_steps import OF_THE_ORGANISATION
from pipelines.reports.statement import not_listed, places_of
from pipelines.reports.statement_tables import NOTHING, cut
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Row, Week, day, instant, packages, per_cent, short_day

MOST_ASKED = 4  # questions to the organisation
OWING = 12  # troops that are listed with what they owe
WEEKS = 12  # weeks of the chart
STEPS = (
    "step_registered", "step_contact", "step_goal", "step_page", "step_told", "step_first_sale", "step_goal_met",
)  # fmt: skip
CAUTIONS = (
    "An amount owed is not proof of wrongdoing: a record may be late, a figure mistyped, a payment on its way. Small "
    "troops swing with every participant: a share says little without its count.",
    "For those who need it, and no longer than needed. Local rules and the organisation's own policy come first; "
    "nothing here is legal, tax or accounting advice.",
)


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """area.pdf."""
    if week.area:
        yield "area.pdf", pdf("summary.typ", values(week))


def values(week: Week) -> dict[str, Any]:
    """All that the summary's template says, as text and lists."""
    frame, area = week.season.season, week.area
    known = f", as known on {instant(week.known_on)}" if week.known_on else ""
    return {
        "paper": week.paper,
        "title": f"{cut(frame.area)}, week {week.week_no}",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "as_of": f"Week {week.week_no}, as of {day(week.as_of, weekday=True)}{known}",
        "lead": _lead(week),
        "tiles": _tiles(week),
        "places_title": f"Where every {week.coin} is",
        "places": places_of(week, area),
        "places_total": [total_label(area), week.money(total(area))],
        "weeks": _weeks(week),
        "items": [_item(row) for row in week.item_totals],
        "calls": _calls(week),
        "owing": _owing(week),
        "of_organisation": _of_organisation(week),
        "path": _path(area),
        "taking_part": _taking_part(week),
        "absent": _absent(week),
        "cautions": CAUTIONS,
    }


def _lead(week: Week) -> str:
    area, money = week.area, week.money
    goals = f", {per_cent(area['goal_share'])} of the goals" if area["goal_share"] is not None else ""
    said = [
        f"{area['troops_submitted']} of {area['troops']} submissions are in; "
        f"{packages(area['packages_sold'])} sold{goals}."
    ]
    late = area["troops_past_due"]
    if late:
        said.append(f"{money(area['past_due'])} is past due in {late} troop{'' if late == 1 else 's'}.")
    else:
        said.append("Nothing is past due.")
    unsure = area["troops_not_covered"]
    if unsure:
        said.append(f"In {unsure} the bank may not cover what is due next: {money(area['lacking'])} lacking.")
    found = [row for rows in week.exceptions.values() for row in rows]
    if found:
        new = sum(row["is_new"] for row in found)
        said.append(f"{len(found)} thing{'' if len(found) == 1 else 's'} to follow up, {new} of them new.")
    return " ".join(said)


def _tiles(week: Week) -> list[list[str]]:
    area = week.area
    pace = f"{per_cent(area['pace'])} of last season's pace" if area["pace"] is not None else "so far"
    part = f"{area['registered_taking_part']} of {area['registered']} registered"
    past = area["past_due"]
    return [
        ["Packages sold", packages(area["packages_sold"], word=False), pace, ""],
        ["Share taking part", per_cent(area["share"]) or NOTHING, part, ""],
        ["Owed in all", week.money(area["owed"]), f"{week.money(area['families_owe'])} with families", ""],
        ["Past due", week.money(past), f"in {area['troops_past_due']} troops", "ask" if past > 0 else "good"],
    ]


def _weeks(week: Week) -> list[list[Any]]:
    """Packages of each week: label, number as shown, number, submissions."""
    lines, before = [], 0
    for row in week.area_weeks:
        number = row["packages_sold"] - before
        before = row["packages_sold"]
        sent = f"{row['troops_submitted']} of {row['troops']} in"
        lines.append([f"Week {row['week_no']}", packages(number, word=False), number, sent])
    return lines[-WEEKS:]


def _item(row: Row) -> list[str]:
    counts = ("available", "sold_from_stock", "remote", "on_hand_or_expected", "missing")
    weeks = "" if row["weeks_of_supply"] is None else f"{row['weeks_of_supply']:.1f}"
    shown = [packages(row[name], word=False) for name in counts]
    return [row["item"], cut(row["title"], 34), *shown, per_cent(row["sell_through"]), weeks]


def _calls(week: Week) -> list[list[str]]:
    """Whom to call first: troop, leader and number, what, next step."""
    rows = [row for rows in week.exceptions.values() for row in rows]
    calls = first_calls(rows, week.troops.values(), week.season.season.title, week.as_of)
    lines = []
    for call in calls:
        reach = ", ".join(cut(text, 28) for text in (call.leader, call.phone) if text)
        others = len(call.rows) - 1
        more = f" And {others} more." if others else ""
        lines.append([call.troop, reach, cut(call.reason, 240) + more, cut(call.next_step, 160)])
    return lines


def _owing(week: Week) -> list[list[str]]:
    """The troops with most past due, then those whose bank may not cover the next due date."""
    rows = [row for row in week.standing.values() if row["past_due"] > 0 or (row["next_due"] and row["cover"] < 0)]
    rows.sort(key=lambda row: (-row["past_due"], row["cover"], row["troop"]))
    money = week.money
    lines = [
        [
            row["troop"],
            money(row["owed"]),
            money(row["past_due"]),
            f"{'about ' if row['next_due_is_estimate'] else ''}{money(row['next_due'])}" if row["next_due_on"] else "",
            short_day(row["next_due_on"]) if row["next_due_on"] else "",
            money(row["cover"]) if row["cover"] >= 0 else f"{money(-row['cover'])} lacking",
        ]
        for row in rows[:OWING]
    ]
    left = len(rows) - len(lines)
    return [*lines, [f"and {left} more", *[""] * 5]] if left else lines


def _of_organisation(week: Week) -> list[list[str]]:
    """What the organisation can tell, and no leader: troop and what was found."""
    rows = [row for rows in week.exceptions.values() for row in rows if row["rule"] in OF_THE_ORGANISATION]
    told = [[row["troop"], cut(row["what"], 200)] for row in sorted(rows, key=lambda row: (row["troop"], row["rule"]))]
    left = len(told) - MOST_ASKED
    return [*told[:MOST_ASKED], ["", f"and {left} more"]] if left > 0 else told


def _path(area: Row) -> list[list[Any]]:
    """How far the registered participants have come: step, number, part of the registered."""
    whole = area["step_registered"]
    return [
        [measure("area", name).label, f"{area[name]:,}", area[name], per_cent(area[name] / whole) if whole else ""]
        for name in STEPS
    ]


def _taking_part(week: Week) -> str:
    area = week.area
    if not area["taking_part"]:
        return "Nobody takes part yet."
    median = f", half of them at least {area['median_per_active']:.0f}" if area["median_per_active"] is not None else ""
    tenth = per_cent(area["top_tenth_part"])
    online = f" {per_cent(area['online_share'])} of the packages were sold online." if area["online_share"] else ""
    each = f"{area['average_per_active']:.0f} packages each on average{median}"
    who = f"The {area['taking_part']:,} taking part{not_listed(area)}"
    return f"{who} sell {each}; the tenth who sell most sell {tenth} of all.{online}"


def _absent(week: Week) -> str:
    absent = [troop for troop, row in week.standing.items() if not row["submitted"]]
    return "" if not absent else f"Not in for this week: {', '.join(absent[:40])}{'…' if len(absent) > 40 else ''}."
