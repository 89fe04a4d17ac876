"""Before the season: plan-opening.csv, plan-loads.csv, pick-lists.csv, pick-lists/<troop>.pdf.

Comes in: a Week. Goes out: the papers of a day up to the day of delivery (without one, before the season's first day):
opening orders judged, loads with their slots, and what each troop is given, with room for two signatures.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from pipelines.figures.delivery import DeliveryDay, clock, delivery_day
from pipelines.reports.looking_ahead import table
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Row, Week, day, file_name

OPENING = ("troop", "ordered", "word", "proposal", "reason")
LOADS = ("vehicle", "troop", "cases", "slot", "door")
PICKS = ("troop", "item", "cases", "packages", "loose")
PAPERS = {
    "pick-lists.pdf": "Pick lists to print", "plan-opening.csv": "Opening orders", "plan-loads.csv": "Loads",
    "pick-lists.csv": "Pick lists",
}  # fmt: skip


def day_of(week: Week) -> DeliveryDay:
    """The day of delivery by what is known."""
    rules = week.season.plan.delivery
    terms = week.figures.rows("opening_terms")
    return delivery_day(terms, week.figures.vehicles(), rules.doors, rules.minutes_a_vehicle, rules.minutes_a_case)


def load_rows(made: DeliveryDay) -> list[Row]:
    """The loads, each with its vehicle's slot and door."""
    slots = {one.vehicle: one for one in made.slots}
    return [
        {"vehicle": one.vehicle, "troop": one.troop, "cases": one.cases, "door": slots[one.vehicle].door,
         "slot": f"{clock(slots[one.vehicle].begins)} to {clock(slots[one.vehicle].ends)}"}
        for one in made.loads.loads
    ]  # fmt: skip


def pick_rows(made: DeliveryDay) -> list[Row]:
    """What each troop is given."""
    return [{name: getattr(one, name) for name in PICKS} for one in made.picks]


def papers(week: Week) -> Iterator[tuple[str, bytes]]:
    """Each paper that has something to say while the delivery lies ahead."""
    if week.as_of > (week.season.plan.delivery.on or week.season.season.first_day):
        return
    made = day_of(week)
    for name, text in tables(week, made).items():
        yield name, text.encode()
    for troop in troops_of(made):
        yield f"pick-lists/{file_name(troop)}.pdf", printed(week, made, [troop])


def one_paper(week: Week, name: str) -> bytes:
    """One of PAPERS, whatever the day; empty where it has nothing to say."""
    made = day_of(week)
    if name == "pick-lists.pdf":
        return printed(week, made, troops_of(made)) if made.picks else b""
    return tables(week, made).get(name, "").encode()


def troops_of(made: DeliveryDay) -> list[str]:
    """The troops that are given something."""
    return list(dict.fromkeys(one.troop for one in made.picks))


def tables(week: Week, made: DeliveryDay) -> dict[str, str]:
    """The tables that have rows, by name."""
    found: tuple[tuple[str, Sequence[str], list[Row]], ...] = (
        ("plan-opening.csv", OPENING, week.figures.rows("opening")),
        ("plan-loads.csv", LOADS, load_rows(made)),
        ("pick-lists.csv", PICKS, pick_rows(made)),
    )
    return {name: table(columns, rows) for name, columns, rows in found if rows}


def printed(week: Week, made: DeliveryDay, troops: Sequence[str]) -> bytes:
    """Pick lists as a PDF, a page a troop."""
    titles = {code: item.title for code, item in week.season.codes.items()}
    loads: dict[str, list[Row]] = {}
    for row in load_rows(made):
        loads.setdefault(row["troop"], []).append(row)
    on = week.season.plan.delivery.on
    return pdf("pick_list.typ", {
        "paper": week.paper, "title": "Pick lists", "season": week.season.season.title,
        "area": week.season.season.area, "as_of": f"To be given on {day(on, weekday=True)}" if on else "Opening order",
        "troops": [_page(troop, made, titles, loads.get(troop, [])) for troop in troops],
    })  # fmt: skip


def _page(troop: str, made: DeliveryDay, titles: dict[str, str], loads: list[Row]) -> dict[str, Any]:
    picks = [one for one in made.picks if one.troop == troop]
    where = "; ".join(
        f"vehicle {row['vehicle']}: {row['cases']} cases, door {row['door']}, {row['slot']} from the start"
        for row in loads
    )
    lines = [
        [one.item, titles[one.item], str(one.cases), str(one.packages), f"{one.loose} in no case" if one.loose else ""]
        for one in picks
    ]
    sums = ["All", "", str(sum(one.cases for one in picks)), str(sum(one.packages for one in picks)), ""]
    return {"troop": troop, "where": f"{where[:1].upper()}{where[1:]}", "lines": lines, "sum": sums}
