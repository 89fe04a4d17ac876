"""How what is on hand, who takes part and what the troop keeps is worked out from cells.

Comes in: Evidence. Goes out: Traced trees of counts, people and proceeds.
"""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Literal

from pipelines.definitions.contract import OWN_PAGE
from pipelines.definitions.measures import Unit
from pipelines.tracing.evidence import Row
from pipelines.tracing.formulas import (
    AT_STALLS,
    BY_HAND,
    DONATED,
    EXPECTED,
    MOVED_IN,
    MOVED_OUT,
    OUT,
    REMOTE,
    SUPPLIED,
    TAKEN,
    Formulas,
    Part,
)  # fmt: skip
from pipelines.tracing.terms import Cell, Traced, combined, not_below_0, of_cells, picked, stated, total

RECENT = "Weeks submitted, the last three at most"


class SoldFormulas(Formulas):
    """The measures of one troop, but for due dates and ages."""

    # Stock

    def _counts(self, day: date, item: str = "") -> list[Row]:
        return [row for row in self.evidence.rows("counts") if row["on_day"] == day and item in ("", row["item"])]

    def _counted_on(self, day: date, unit: Unit, item: str = "") -> Traced:
        cells = []
        for row in self._counts(day, item):
            price = self.evidence.items[row["item"]]["price"] if unit == "money" else 1
            cells.append(
                self.evidence.cell(row, "stock", "on_hand", row["counted"], price, f"{day} count {row['item']}")
            )
        return of_cells("Counted", unit, cells)

    def _expected(self, label: str, day: date, unit: Unit, items: set[str]) -> Traced:
        return self.parts(label, unit, EXPECTED, day, lambda row: row["item"] in items)

    def _on_hand(self, day: date, unit: Unit) -> Traced:
        counted = {row["item"] for row in self._counts(day)}
        rest = self._expected("Should be on hand, not counted", day, unit, self.evidence.items.keys() - counted)
        return total("On hand", unit, (1, self._counted_on(day, unit)), (1, rest))

    def _missing(self, day: date, unit: Unit, item: str = "") -> Traced:
        counted = {row["item"] for row in self._counts(day, item)}
        if item and not counted:
            return stated("Not accounted for", unit, None, note="The item was not counted on that day.")
        expected = self._expected("Should be on hand, of items counted", day, unit, counted)
        return total("Not accounted for", unit, (1, expected), (-1, self._counted_on(day, unit, item)))

    def _standing_on_hand(self, day: date, _part: str) -> Traced:
        return self._on_hand(day, "packages")

    def _standing_on_hand_value(self, day: date, _part: str) -> Traced:
        return self._on_hand(day, "money")

    def _standing_missing(self, day: date, _part: str) -> Traced:
        return self._missing(day, "packages")

    def _standing_missing_value(self, day: date, _part: str) -> Traced:
        return self._missing(day, "money")

    def _items_missing(self, day: date, part: str) -> Traced:
        return self._missing(day, "packages", part)

    def _items_on_hand(self, day: date, part: str) -> Traced:
        if self._counts(day, part):
            return self._counted_on(day, "packages", part)
        return stated("Counted", "packages", None, note="The item was not counted on that day.")

    def _items_on_hand_or_expected(self, day: date, part: str) -> Traced:
        return (
            self._items_on_hand(day, part)
            if self._counts(day, part)
            else self.of("items", "expected_on_hand", day, part)
        )

    def _stocked(self, parts: tuple[Part, ...], day: date) -> Traced:
        stocked = {code for code, item in self.evidence.items.items() if item["is_stocked"]}
        return self.parts("Stocked items", "packages", parts, day, lambda row: row["item"] in stocked)

    def _standing_stocked_sold(self, day: date, _part: str) -> Traced:
        return self._stocked((TAKEN, AT_STALLS), day)

    def _standing_stocked_available(self, day: date, _part: str) -> Traced:
        return self._stocked((SUPPLIED, MOVED_IN, MOVED_OUT), day)

    def _items_sell_through(self, day: date, part: str) -> Traced:
        if not self.evidence.items[part]["is_stocked"]:
            return stated("Sell-through", "share", None, note="Troops do not hold this item.")
        sold, available = (self.of("items", name, day, part) for name in ("sold_from_stock", "available"))
        return combined("quotient", "Sell-through", "share", sold, available)

    def _recent_weeks(self, day: date) -> list[date]:
        return [row["week_ending"] for row in self.evidence.rows("submitted") if row["week_ending"] <= day][-3:]

    def recent_weeks(self, day: date) -> Traced:
        """How many of the weeks up to a day count as lately."""
        return stated(RECENT, "weeks", Decimal(len(self._recent_weeks(day))))

    def _items_recent_sold(self, day: date, part: str) -> Traced:
        weeks = self._recent_weeks(day)
        within: Callable[[Row], bool] = lambda row: row["item"] == part and row["on_day"] in weeks  # noqa: E731
        return self.parts("Out of stock lately", "packages", (TAKEN, AT_STALLS), day, within)

    def _items_weeks_of_supply(self, day: date, part: str) -> Traced:
        if not self.evidence.items[part]["is_stocked"]:
            return stated("Weeks of supply", "weeks", None, note="Troops do not hold this item.")
        weeks = self.recent_weeks(day)
        on_hand, sold = (self.of("items", name, day, part) for name in ("on_hand_or_expected", "recent_sold"))
        times = combined("product", "On hand, times the weeks", "packages", on_hand, weeks)
        return combined("quotient", "Weeks of supply", "weeks", times, sold)

    # People

    def _did(self, day: date) -> dict[str, list[Cell]]:
        """Everyone taking part by a day, with the cells that show it."""
        taken: dict[str, list[tuple[int, Cell]]] = {}
        orders: dict[str, list[tuple[int, Cell]]] = {}
        for row in self.evidence.entries:
            sign = (REMOTE | BY_HAND).get(row["kind"], 0)
            if row["on_day"] > day or row["participant"] in (None, OWN_PAGE) or row["packages"] is None:
                continue
            if row["kind"] in OUT | DONATED:
                taken.setdefault(row["participant"], []).append((row["packages"], self._counted(row, 1, "packages")))
            elif sign:
                orders.setdefault(row["participant"], []).append((sign, self._counted(row, sign, "packages")))
        shown: dict[str, list[Cell]] = {}
        for seen in (taken, orders):
            for who, told in seen.items():
                if sum(number for number, _cell in told) > 0:
                    shown.setdefault(who, []).extend(cell for _number, cell in told)
        for row in self.evidence.rows("stalls"):
            for who in row["participants"] or []:
                if row["week_ending"] <= day and who != OWN_PAGE:
                    cell = self.evidence.cell(row, "stalls", "participants", who, note=f"{row['date']} stall")
                    shown.setdefault(who, []).append(cell)
        return shown

    def _roster(self, day: date) -> dict[str, Cell]:
        """Everyone registered on a day, with the row of the roster."""
        return {
            row["participant"]: self.evidence.cell(row, "roster", "participant", row["participant"])
            for row in self.evidence.rows("roster")
            if row["registered_on"] <= day and (row["left_on"] is None or row["left_on"] > day)
        }

    def _people(self, label: str, shown: dict[str, list[Cell]]) -> Traced:
        each = [stated(who, "participants", 1, cells) for who, cells in sorted(shown.items())]
        return combined("people", label, "participants", *each)

    def _standing_registered(self, day: date, _part: str) -> Traced:
        return self._people("Registered", {who: [cell] for who, cell in self._roster(day).items()})

    def _standing_taking_part(self, day: date, _part: str) -> Traced:
        return self._people("Taking part", self._did(day))

    def _standing_registered_taking_part(self, day: date, _part: str) -> Traced:
        roster = self._roster(day)
        both = {who: [*cells, roster[who]] for who, cells in self._did(day).items() if who in roster}
        return self._people("Registered and taking part", both)

    def _limit(self, how: Literal["lower limit", "upper limit"], day: date) -> Traced:
        terms = (self.of("standing", name, day) for name in ("registered_taking_part", "registered"))
        return combined(how, how.capitalize(), "share", *terms)

    def _standing_share_low(self, day: date, _part: str) -> Traced:
        return self._limit("lower limit", day)

    def _standing_share_high(self, day: date, _part: str) -> Traced:
        return self._limit("upper limit", day)

    # Proceeds

    def _divisor(self, day: date) -> Traced:
        row = next(iter(self.evidence.rows("troops")), None)
        if row and row["divisor"] is not None:
            cell = self.evidence.cell(row, "troops", "divisor", row["divisor"])
            return picked("The organisation's count", "participants", cell)
        return self.of("standing", self.evidence.rules["proceeds_per"], day)

    def _standing_divisor(self, day: date, _part: str) -> Traced:
        return self._divisor(day)

    def _standing_proceeds_rate(self, day: date, _part: str) -> Traced:
        sold, divisor = self.of("standing", "packages_sold", day), self._divisor(day)
        reached = [
            tier
            for tier in self.evidence.tiers
            if tier["tier_no"] == 1 or (divisor.value > 0 and tier["from_average"] * divisor.value <= sold.value)
        ][-1]
        rule = self.evidence.rule(f"proceeds.tiers[{reached['tier_no']}].rate", reached["rate"])
        tier = picked(
            f"Tier from {reached['from_average'].normalize():f} packages on average", "rate", rule, sold, divisor
        )
        row = next(iter(self.evidence.rows("troops")), None)
        extra = (
            [self.evidence.cell(row, "troops", "extra_rate", row["extra_rate"])] if row and row["extra_rate"] else []
        )
        return total("Proceeds a package", "rate", (1, tier), (1, of_cells("The troop's extra rate", "rate", extra)))

    def _standing_packages_charged(self, day: date, _part: str) -> Traced:
        available, remote = (self.of("standing", name, day) for name in ("available", "remote"))
        return total("Packages charged", "packages", (1, available), (1, remote))

    def _standing_proceeds(self, day: date, part: str) -> Traced:
        rate = self.of("standing", "proceeds_rate", day)
        return combined("product", "Proceeds", "money", rate, self._standing_packages_charged(day, part))

    def _standing_paid_of_charge(self, day: date, _part: str) -> Traced:
        each = []
        for who in self.evidence.families(day):
            paid, charged = self.of("families", "paid", day, who), self.of("families", "charged", day, who)
            each.append((1, not_below_0(who, "money", combined("least", who, "money", paid, charged))))
        return total("Families paid", "money", *each)
