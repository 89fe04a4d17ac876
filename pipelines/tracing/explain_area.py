"""How a figure of the whole area is made: its terms are the troops' figures, each of which can be traced on.

Comes in: Figures of somebody who sees all troops, a measure's name, a day, an item. Goes out: a Traced tree. Its leaves
are the troops' figures as they are shown, or (`whole`) their cells.
"""

from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, Literal

from pipelines.definitions.errors import Stop
from pipelines.definitions.measures import Measure, Unit, measure
from pipelines.figures.figures import Figures
from pipelines.tracing.evidence import Evidence
from pipelines.tracing.explain import TRACED, Tracer
from pipelines.tracing.formulas import Scope
from pipelines.tracing.formulas_people import packages_of, top_tenth
from pipelines.tracing.formulas_sold import RECENT
from pipelines.tracing.terms import Traced, combined, of_cells, stated, total

AreaScope = Literal["area", "item_totals"]
COUNTED: dict[str, Callable[[dict[str, Any]], bool]] = {  # how many troops are so
    "troops": lambda _row: True,
    "troops_submitted": lambda row: bool(row["submitted"]),
    "troops_past_due": lambda row: row["past_due"] > 0,
    "troops_not_covered": lambda row: row["cover"] < 0,
}
SEEN_BY = {"troops_submitted": "submitted", "troops_past_due": "past_due", "troops_not_covered": "cover"}
OF_STEPS = (*(name for name in TRACED["steps"] if name.startswith("step_")), "goal")
SUMMED = (
    "available", "sold_from_stock", "remote", "packages_sold", "on_hand", "missing", "stocked_sold",
    "stocked_available", "available_value", "remote_value", "on_hand_value", "damaged_value", "missing_value",
    "families_owe", "stall_short", "not_banked", "in_bank", "remitted", "paid_online", "settled_otherwise", "charged",
    "proceeds", "adjustments", "credits", "owed", "being_collected", "past_due", "past_due_0_7", "past_due_8_14",
    "past_due_15_30", "past_due_over_30", "paid_of_charge", "stall_takings", "registered", "taking_part",
    "registered_taking_part",
)  # fmt: skip
RATIOS = (
    "sell_through", "paid_through", "share", "average_per_registered", "average_per_active", "goal_share",
    "online_share", "top_tenth_part", "mean_posted_order", "pace",
)  # fmt: skip
ORDERS = ("by_hand", "posted_orders", "posted_packages")
SPREAD = ("median_per_active", "participants_packages", "top_tenth_packages")
SEASONS = ("last_season", "matched_now", "matched_then", "matched_troops")
LIMITS = ("share_low", "share_high")
OF_ITEMS = (
    "supplied", "available", "damaged", "handed_out", "stall", "sold_from_stock", "remote", "on_hand_or_expected",
    "missing",
)  # fmt: skip
MEASURES: dict[AreaScope, tuple[str, ...]] = {
    "area": (*COUNTED, *SUMMED, *OF_STEPS, *RATIOS, *ORDERS, *SPREAD, *SEASONS, *LIMITS),
    "item_totals": (*OF_ITEMS, "sell_through", "sold_a_week", "weeks_of_supply"),
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
        if name not in MEASURES[relation]:
            raise Stop(f"There is no measure {name} of the area. There are: {', '.join(MEASURES[relation])}.")
        told = measure(relation, name) if name != "matched_troops" else measure("area", "troops")
        made = self._of_item(name, told, item) if relation == "item_totals" else self._of_area(name, told)
        return made.named(told.label, told.meaning)

    # The area

    def _of_area(self, name: str, told: Measure) -> Traced:
        if name in COUNTED:
            return self._count(name)
        if name in SEASONS:
            return self._season(name, told)
        if name in SPREAD:
            return self._spread(name, told)
        if name in LIMITS:
            how: Literal["lower limit", "upper limit"] = "lower limit" if name == "share_low" else "upper limit"
            return combined(
                how, told.label, "share", *(self.of("area", t) for t in ("registered_taking_part", "registered"))
            )
        if name in RATIOS:
            terms = [self.of("area", term) for term in told.terms]
            above = (
                terms[0] if len(terms) == 2 else total("Above the line", terms[0].unit, *((1, t) for t in terms[:-1]))
            )
            return combined("quotient", told.label, told.unit, above, terms[-1])
        relation: Scope = "steps" if name in OF_STEPS else "standing"
        return total(told.label, told.unit, *((1, term) for term in self._troops(relation, name, told.unit)))

    def _troops(self, relation: Scope, name: str, unit: Unit, part: str = "") -> Iterator[Traced]:
        """Each troop's own figure; those of nothing are left out."""
        for troop in self._standing:
            term = self._term(relation, troop, name, unit, part)
            if term.value:
                yield term

    def _term(self, relation: Scope, troop: str, name: str, unit: Unit, part: str = "") -> Traced:
        """One troop's figure, as it is shown or down to its cells."""
        if self._is_deep(troop):
            tracer = self._tracer(troop)
            made = tracer.formulas.of(relation, name, self.as_of, part)
        else:
            made = stated(troop, unit, self._value(relation, troop, name, part))
        return made.named(troop)

    def _is_deep(self, troop: str) -> bool:
        return self.whole or troop == self.of_troop

    def _tracer(self, troop: str) -> Tracer:
        if troop not in self._tracers:
            self._tracers[troop] = Tracer(self.figures, troop, self.as_of)
        return self._tracers[troop]

    def _value(self, relation: Scope, troop: str, name: str, part: str) -> Any:
        if relation == "items":
            return self._items.get((troop, part), {}).get(name)
        if name == "by_hand":
            return sum(row["by_hand"] for (code, _item), row in self._items.items() if code == troop)
        if name in ORDERS:
            orders = [row["packages"] for row in self._posted if row["troop"] == troop]
            return len(orders) if name == "posted_orders" else sum(orders)
        return (self._steps if relation == "steps" else self._standing)[troop][name]

    def _count(self, name: str) -> Traced:
        """How many troops are so, each with the figure that says it."""
        each = []
        for troop, row in self._standing.items():
            if COUNTED[name](row):
                seen = SEEN_BY.get(name)
                told = measure("standing", seen or "troop")
                each.append(self._term("standing", troop, seen, told.unit) if seen else stated(troop, "code", troop))
        return combined("people", name, "troops", *each)

    def _spread(self, name: str, told: Measure) -> Traced:
        """The packages of everyone taking part in the area, the most first."""
        sellers = sorted(self._sellers(), key=lambda one: (-one[2].value, one[0], one[1]))
        each = [traced for _troop, _who, traced in sellers]
        if name == "median_per_active":
            return combined("median", told.label, "average", *each)
        return packages_of(told.label, each if name == "participants_packages" else top_tenth(each))

    def _sellers(self) -> Iterator[tuple[str, str, Traced]]:
        for row in [] if self.whole else self.figures.rows("participants", self.as_of):
            if row["is_taking_part"] and row["troop"] != self.of_troop:
                yield row["troop"], row["participant"], stated(row["participant"], "packages", row["packages"])
        for troop in filter(self._is_deep, self._standing):
            for one in self._tracer(troop).formulas.sellers(self.as_of):
                yield troop, one.label, one

    def _season(self, name: str, told: Measure) -> Traced:
        """Of this season and the last: troops' packages up to the same week's number."""
        week_no = next(iter(self._standing.values()))["week_no"]
        rows = [
            r for r in self.figures.evidence("last_season", None, self.as_of).to_pylist() if r["week_no"] == week_no
        ]
        if name == "last_season" and not rows:
            return stated(told.label, "packages", None, note="Last season's packages of this week are not known.")
        if name in {"last_season", "matched_then"}:
            each = [self._then(row) for row in rows if name == "last_season" or row["troop"] in self._standing]
            return total(told.label, "packages", *((1, one) for one in each))
        both = [row["troop"] for row in rows if row["troop"] in self._standing]
        if name == "matched_troops":
            return combined("people", told.label, "troops", *(stated(troop, "code", troop) for troop in both))
        return total(
            told.label, "packages", *((1, self._term("standing", t, "packages_sold", "packages")) for t in both)
        )

    def _then(self, row: dict[str, Any]) -> Traced:
        """A troop's packages of last season, with the cell that says them."""
        if not self._is_deep(row["troop"]):
            return stated(row["troop"], "packages", row["packages"])
        evidence = Evidence(self.figures, row["troop"], self.as_of)
        evidence.rows("last_season")  # finds the places of its columns
        cell = evidence.cell(row, "last_season", "packages", row["packages"])
        return of_cells(row["troop"], "packages", [cell])

    # One item in all troops

    def _of_item(self, name: str, told: Measure, item: str) -> Traced:
        if item not in {row["code"] for row in self.figures.season_items()}:
            raise Stop(
                f"There is no item {item}. There are: {', '.join(r['code'] for r in self.figures.season_items())}."
            )
        if name in OF_ITEMS:
            return total(told.label, told.unit, *((1, term) for term in self._troops("items", name, told.unit, item)))
        if name == "sold_a_week":
            return total(told.label, told.unit, *((1, term) for term in self._paces(item)))
        above, below = {
            "sell_through": ("sold_from_stock", "available"), "weeks_of_supply": ("on_hand_or_expected", "sold_a_week"),
        }[name]  # fmt: skip
        if not next(row for row in self.figures.season_items() if row["code"] == item)["is_stocked"]:
            return stated(told.label, told.unit, None, note="Troops do not hold this item.")
        terms = (self.of("item_totals", term, item) for term in (above, below))
        return combined("quotient", told.label, told.unit, *terms)

    def _paces(self, item: str) -> Iterator[Traced]:
        """What leaves each troop's stock in a week."""
        for troop in self._standing:
            if self._is_deep(troop):
                formulas = self._tracer(troop).formulas
                weeks = formulas.recent_weeks(self.as_of)
                sold = formulas.of("items", "recent_sold", self.as_of, item)
            else:
                recent = self._recent.get((troop, item), {"sold": 0, "weeks": 0})
                weeks = stated(RECENT, "weeks", Decimal(recent["weeks"]))
                sold = stated("Out of stock lately", "packages", Decimal(recent["sold"]))
            if sold.value and weeks.value:
                yield combined("quotient", troop, "average", sold, weeks)

    # What is read, once

    @cached_property
    def _standing(self) -> dict[str, dict[str, Any]]:
        return {row["troop"]: row for row in self.figures.rows("standing", self.as_of)}

    @cached_property
    def _steps(self) -> dict[str, dict[str, Any]]:
        return {row["troop"]: row for row in self.figures.rows("steps", self.as_of)}

    @cached_property
    def _items(self) -> dict[tuple[str, str], dict[str, Any]]:
        return {(row["troop"], row["item"]): row for row in self.figures.rows("items", self.as_of)}

    @cached_property
    def _posted(self) -> list[dict[str, Any]]:
        return self.figures.rows("posted_orders", self.as_of)

    @cached_property
    def _recent(self) -> dict[tuple[str, str], dict[str, Any]]:
        return {(row["troop"], row["item"]): row for row in self.figures.rows("recent_sales", self.as_of)}
