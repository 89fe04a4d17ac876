"""How a figure of the whole area is made: its terms are the troops' figures, each of which can be traced on.

Comes in: Figures of somebody who sees all troops, a measure's name, a day, an item. Goes out: a Traced tree. Its leaves
are the troops' figures as they are shown, or (`whole`) their cells.
"""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from pipelines.definitions.errors import Stop
from pipelines.definitions.measures import RELATIONS, Count, Measure, Own, Unit, measure
from pipelines.figures.figures import Figures
from pipelines.tracing.evidence import Evidence
from pipelines.tracing.explain import Tracer, measures_of
from pipelines.tracing.people import packages_of, sellers, top_tenth
from pipelines.tracing.stock import RECENT, recent_weeks
from pipelines.tracing.terms import Traced, combined, of_cells, stated, total
from pipelines.tracing.troop import AreaScope, Scope, of_others, own_way

AREA_SCOPES: tuple[AreaScope, ...] = ("area", "item_totals")
SO: dict[str, Callable[[Any], bool]] = {  # what is counted, as the declarations say it
    "> 0": lambda value: bool(value > 0),
    "< 0": lambda value: bool(value < 0),
    "is true": bool,
    "is not null": lambda value: value is not None,
}


class AreaTracer:
    """Traces the area's figures on one day, down to one troop's cells, or (`whole`) to all, which takes seconds."""

    def __init__(self, figures: Figures, as_of: date, *, whole: bool = False, of_troop: str = "") -> None:
        if figures.viewer.troops is not None:
            raise Stop("How the area's figures are made from the troops' is shown to the coordinator.")
        self.figures, self.as_of, self.whole, self.of_troop = figures, as_of, whole, of_troop
        self._tracers: dict[str, Tracer] = {}

    def of(self, relation: AreaScope, name: str, item: str = "") -> Traced:
        """One figure; `item`: of which item (of item_totals). Raises Stop where there is no such measure."""
        if name not in measures_of(relation):
            raise Stop(f"There is no measure {name} of the area. There are: {', '.join(measures_of(relation))}.")
        codes = [row["code"] for row in self.figures.season_items()]
        if relation == "item_totals" and item not in codes:
            raise Stop(f"There is no item {item}. There are: {', '.join(codes)}.")
        told = RELATIONS[relation][name]
        return self._make(relation, told, item).named(told.label, told.meaning)

    def _make(self, relation: AreaScope, told: Measure, item: str) -> Traced:
        match told.made:
            case Count():
                return self._count(relation, told, told.made, item)
            case Own(relation=made_in, trace=trace) if made_in == relation:
                return own_way(trace)(self, told, item)
            case _ if told.is_added_up:
                of_whom: Scope = "items" if item else "steps" if told.name in RELATIONS["steps"] else "standing"
                return self.added_up(of_whom, told, item)
        return of_others(told, lambda name: self.of(relation, name, item))

    def added_up(self, relation: Scope, told: Measure, item: str = "") -> Traced:
        """Each troop's own figure; those of nothing are left out."""
        terms = (self.term(relation, troop, told.name, told.unit, item) for troop in self.standing)
        return total(told.label, told.unit, *((1, term) for term in terms if term.value))

    def term(self, relation: Scope, troop: str, name: str, unit: Unit, part: str = "") -> Traced:
        """One troop's figure, as it is shown or down to its cells."""
        if self.is_deep(troop):
            return self.tracer(troop).troop.of(relation, name, self.as_of, part).named(troop)
        row = self.row(relation, troop, part)
        return stated(troop, unit, row.get(name))

    def row(self, relation: Scope, troop: str, part: str = "") -> dict[str, Any]:
        """A troop's row of what is shown."""
        if relation == "items":
            return self._items.get((troop, part), {})
        return (self._steps if relation == "steps" else self.standing)[troop]

    def is_deep(self, troop: str) -> bool:
        """Whether a troop's figures are told down to their cells."""
        return self.whole or troop == self.of_troop

    def tracer(self, troop: str) -> Tracer:
        """What traces a troop's own figures."""
        if troop not in self._tracers:
            self._tracers[troop] = Tracer(self.figures, troop, self.as_of)
        return self._tracers[troop]

    def _count(self, relation: AreaScope, told: Measure, made: Count, item: str) -> Traced:
        """How many troops are so, each with the figure that says it."""
        of_whom: Scope = "items" if relation == "item_totals" else "standing"
        seen = measure(of_whom, made.of)
        each = [
            self.term(of_whom, troop, seen.name, seen.unit, item) if seen.made else stated(troop, "code", troop)
            for troop in self.standing
            if SO[made.so](self.row(of_whom, troop, item).get(made.of))
        ]
        return combined("people", told.label, "troops", *each)

    # What is read, once

    @cached_property
    def standing(self) -> dict[str, dict[str, Any]]:
        """Each troop's row of standing."""
        return {row["troop"]: row for row in self.figures.rows("standing", self.as_of)}

    @cached_property
    def _steps(self) -> dict[str, dict[str, Any]]:
        return {row["troop"]: row for row in self.figures.rows("steps", self.as_of)}

    @cached_property
    def _items(self) -> dict[tuple[str, str], dict[str, Any]]:
        return {(row["troop"], row["item"]): row for row in self.figures.rows("items", self.as_of)}

    @cached_property
    def persons(self) -> dict[tuple[str, str], str]:
        """Of each participant of a troop who it is in the area."""
        rows = self.figures.rows("participants", self.as_of)
        return {(row["troop"], row["participant"]): row["person"] for row in rows}

    @cached_property
    def recent(self) -> dict[tuple[str, str], dict[str, Any]]:
        """What left a troop's stock of an item in its last weeks, and in how many."""
        return {(row["troop"], row["item"]): row for row in self.figures.rows("recent_sales", self.as_of)}

    @cached_property
    def last_season(self) -> list[dict[str, Any]]:
        """Each troop's row of last season, up to the same week's number."""
        week_no = next(iter(self.standing.values()))["week_no"]
        rows = self.figures.evidence("last_season", None, self.as_of).to_pylist()
        return [row for row in rows if row["week_no"] == week_no and not row["item"]]


# The area's own: how packages are spread


def _sellers(area: AreaTracer) -> list[Traced]:
    """The packages of everyone taking part in the area, the most first."""
    found: list[tuple[str, str, Traced]] = []
    for row in [] if area.whole else area.figures.rows("participants", area.as_of):
        if row["is_taking_part"] and row["troop"] != area.of_troop:
            who = row["participant"]
            found.append((row["troop"], who, stated(who, "packages", row["packages"])))
    for troop in filter(area.is_deep, area.standing):
        found += [(troop, one.label, one) for one in sellers(area.tracer(troop).troop, area.as_of)]
    by_person: dict[str, list[Traced]] = {}
    for troop, who, traced in found:
        by_person.setdefault(area.persons.get((troop, who), f"{troop} {who}"), []).append(traced)
    merged = {
        person: each[0] if len(each) == 1 else packages_of(each[0].label, each) for person, each in by_person.items()
    }
    return [traced for _person, traced in sorted(merged.items(), key=lambda one: (-one[1].value, one[0]))]


# The area's own: who changed troops counts once


def _once(area: AreaTracer, told: Measure, of_whom: Scope, worth: Callable[[list[dict[str, Any]]], int]) -> Traced:
    """The troops' figures, and of everyone who was in several what they count too often."""
    by_person: dict[str, list[dict[str, Any]]] = {}
    for row in area.figures.rows("participants", area.as_of):
        by_person.setdefault(row["person"], []).append(row)
    terms = [(1, area.term(of_whom, troop, told.name, told.unit)) for troop in area.standing]
    for rows in by_person.values():
        twice = sum(worth([row]) for row in rows) - worth(rows)
        if twice:
            told_twice = stated(f"{rows[0]['participant']}, who changed troops", told.unit, abs(twice))
            terms.append((-1 if twice > 0 else 1, told_twice))
    return total(told.label, told.unit, *(term for term in terms if term[1].value))


def taking_part(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """Everyone who did anything in any troop."""
    return _once(area, told, "standing", lambda rows: any(row["is_taking_part"] for row in rows))


def _latest_goal(rows: list[dict[str, Any]]) -> int:
    """The goal that was set in the troop joined last."""
    goals = [row for row in rows if row["goal"] > 0]
    return int(max(goals, key=lambda row: row["joined_on"] or date.min)["goal"]) if goals else 0


def goal(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """Everyone's goal."""
    return _once(area, told, "steps", _latest_goal)


def goal_packages(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """All packages of everyone who has a goal."""
    return _once(area, told, "steps", lambda rows: sum(row["packages"] for row in rows) if _latest_goal(rows) else 0)


def median_per_active(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """The packages of the one in the middle."""
    return combined("median", told.label, "average", *_sellers(area))


def top_tenth_packages(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """The packages of the first tenth."""
    return packages_of(told.label, top_tenth(_sellers(area)))


# The area's own: this season and the last, up to the same week's number


def _then(area: AreaTracer, row: dict[str, Any]) -> Traced:
    """A troop's packages of last season, with the cell that says them."""
    if not area.is_deep(row["troop"]):
        return stated(row["troop"], "packages", row["packages"])
    evidence = Evidence(area.figures, row["troop"], area.as_of)
    evidence.rows("last_season")  # finds the places of its columns
    cell = evidence.cell(row, "last_season", "packages", row["packages"])
    return of_cells(row["troop"], "packages", [cell])


def _both(area: AreaTracer) -> list[dict[str, Any]]:
    return [row for row in area.last_season if row["troop"] in area.standing]


def last_season(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """The packages of all troops then."""
    if not area.last_season:
        return stated(told.label, "packages", None, note="Last season's packages of this week are not known.")
    return total(told.label, "packages", *((1, _then(area, row)) for row in area.last_season))


def matched_then(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """The packages then of the troops that have both seasons."""
    return total(told.label, "packages", *((1, _then(area, row)) for row in _both(area)))


def matched_now(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """Their packages now."""
    now = [area.term("standing", row["troop"], "packages_sold", "packages") for row in _both(area)]
    return total(told.label, "packages", *((1, one) for one in now))


def matched_troops(area: AreaTracer, told: Measure, _item: str) -> Traced:
    """The troops that have both seasons."""
    return combined(
        "people", told.label, "troops", *(stated(row["troop"], "code", row["troop"]) for row in _both(area))
    )


# One item in all troops


def sold_a_week(area: AreaTracer, told: Measure, item: str) -> Traced:
    """What leaves each troop's stock in a week, added up."""
    terms = []
    for troop in area.standing:
        if area.is_deep(troop):
            one = area.tracer(troop).troop
            weeks, sold = recent_weeks(one, area.as_of), one.of("items", "recent_sold", area.as_of, item)
        else:
            row = area.recent.get((troop, item), {"sold": 0, "weeks": 0})
            weeks = stated(RECENT, "weeks", Decimal(row["weeks"]))
            sold = stated("Sold from stock lately", "packages", Decimal(row["sold"]))
        if sold.value and weeks.value:
            terms.append((1, combined("quotient", troop, "average", sold, weeks)))
    return total(told.label, told.unit, *terms)


def weeks_of_supply(area: AreaTracer, told: Measure, item: str) -> Traced:
    """What is on hand, by what leaves all troops' stock in a week."""
    if not next(row for row in area.figures.season_items() if row["code"] == item)["is_stocked"]:
        return stated(told.label, told.unit, None, note="Troops do not hold this item.")
    terms = (area.of("item_totals", name, item) for name in ("on_hand_or_expected", "sold_a_week"))
    return combined("quotient", told.label, told.unit, *terms)
