"""How the path of a troop's participants, its posted orders and its due dates are worked out from cells.

Comes in: Evidence. Goes out: Traced trees of how many have come how far, what was posted, and each due date's amounts.
"""

from datetime import date

from pipelines.definitions.contract import OWN_PAGE
from pipelines.tracing.evidence import Row
from pipelines.tracing.formulas import BY_HAND, REMOTE, Part
from pipelines.tracing.formulas_owed import AllFormulas
from pipelines.tracing.terms import Cell, Traced, combined, of_cells, stated, total

BY_HAND_PACKAGES = Part("Delivered by hand", BY_HAND)


class PathFormulas(AllFormulas):
    """The measures of one troop, the path of its participants and its due dates included."""

    # The path from registered to goal met

    def _newest(self, evident_day: str, rows: list[Row], day: date) -> dict[str, Row]:
        """Each participant's newest row by a day."""
        found: dict[str, Row] = {}
        for row in sorted(rows, key=lambda row: row[evident_day]):
            if row[evident_day] <= day:
                found[row["participant"]] = row
        return found

    def _goals(self, day: date) -> dict[str, Cell]:
        """Everyone's goal by a day, the newest of each."""
        found = self._newest("week_ending", self.evidence.rows("goals"), day)
        return {who: self.evidence.cell(row, "goals", "goal", row["goal"]) for who, row in found.items()}

    def _everybody(self, day: date) -> set[str]:
        """Everyone who is registered on a day, or did anything by it; not the troop's own page."""
        families = {row["participant"] for row in self.evidence.rows("families") if row["week_ending"] <= day}
        orders = {
            row["participant"]
            for row in self.evidence.entries
            if row["on_day"] <= day and row["kind"] in REMOTE | BY_HAND
        }
        stalls = {
            who
            for row in self.evidence.rows("stalls")
            if row["week_ending"] <= day
            for who in row["participants"] or []
        }
        return (families | orders | stalls | self._roster(day).keys()) - {None, OWN_PAGE}

    def _reached(self, label: str, day: date, shown: dict[str, list[Cell]]) -> Traced:
        """How many of the registered have cells that show it."""
        roster = self._roster(day)
        return self._people(label, {who: [roster[who], *cells] for who, cells in shown.items() if who in roster})

    def _steps_step_registered(self, day: date, _part: str) -> Traced:
        return self._standing_registered(day, "")

    def _steps_step_contact(self, day: date, _part: str) -> Traced:
        shown = {
            row["participant"]: [self.evidence.cell(row, "roster", "contact_on_file", True)]
            for row in self.evidence.rows("roster")
            if row["contact_on_file"]
        }
        return self._reached("Contact on file", day, shown)

    def _steps_step_goal(self, day: date, _part: str) -> Traced:
        return self._reached("Goal set", day, {who: [cell] for who, cell in self._goals(day).items() if cell.value > 0})

    def _pages(self, day: date) -> dict[str, Row]:
        return self._newest("on", self.evidence.rows("pages"), day)

    def _steps_step_page(self, day: date, _part: str) -> Traced:
        shown = {
            who: [self.evidence.cell(row, "pages", "page_open", True)]
            for who, row in self._pages(day).items()
            if row["page_open"]
        }
        return self._reached("Page open", day, shown)

    def _steps_step_told(self, day: date, _part: str) -> Traced:
        shown = {
            who: [self.evidence.cell(row, "pages", "people_told", row["people_told"])]
            for who, row in self._pages(day).items()
            if (row["people_told"] or 0) > 0
        }
        return self._reached("People told", day, shown)

    def _packages_of(self, day: date, who: str) -> Traced:
        return self.of("families", "packages", day, who).named(who)

    def _steps_step_first_sale(self, day: date, _part: str) -> Traced:
        shown = {}
        for who in self._roster(day):
            sold = self._packages_of(day, who)
            by_hand = self.parts("By hand", "packages", (BY_HAND_PACKAGES,), day, self.within("families", who))
            if sold.value > 0 or by_hand.value > 0:
                shown[who] = [*_cells(sold), *_cells(by_hand)]
        return self._reached("First sale", day, shown)

    def _steps_step_goal_met(self, day: date, _part: str) -> Traced:
        shown = {}
        for who, goal in self._goals(day).items():
            sold = self._packages_of(day, who)
            if 0 < goal.value <= sold.value:
                shown[who] = [goal, *_cells(sold)]
        return self._reached("Goal met", day, shown)

    def _steps_goal(self, day: date, _part: str) -> Traced:
        goals, everybody = self._goals(day), self._everybody(day)
        return self.sum_of_cells("Goal", [cell for who, cell in sorted(goals.items()) if who in everybody])

    # How packages are spread

    def sellers(self, day: date) -> list[Traced]:
        """The packages of everyone taking part, the most first."""
        each = [self._packages_of(day, who) for who in sorted(self._did(day))]
        return sorted(each, key=lambda one: (-one.value, one.label))

    def _steps_participants_packages(self, day: date, _part: str) -> Traced:
        return packages_of("Participants' packages", self.sellers(day))

    def _steps_top_tenth_packages(self, day: date, _part: str) -> Traced:
        return packages_of("Top tenth's packages", top_tenth(self.sellers(day)))

    def _steps_median_per_active(self, day: date, _part: str) -> Traced:
        return combined("median", "Median", "average", *self.sellers(day))

    # Orders

    def _standing_by_hand(self, day: date, _part: str) -> Traced:
        return self.parts("Delivered by hand", "packages", (BY_HAND_PACKAGES,), day, self.within("standing", ""))

    def _posted(self, day: date) -> dict[str, list[Cell]]:
        """The orders that are posted on a day, each with the cells of its packages."""
        found: dict[str, list[Cell]] = {}
        for row in self.evidence.rows("order_spans"):
            is_open = row["from_on"] <= day and (row["until_on"] is None or row["until_on"] > day)
            if is_open and row["mode"] == "by_post" and row["is_remote"]:
                cell = self.evidence.cell(row, "online_orders", "packages", row["packages"], note=row["order"])
                found.setdefault(row["order"], []).append(cell)
        return found

    def _standing_posted_orders(self, day: date, _part: str) -> Traced:
        each = [stated(order, "orders", 1, cells) for order, cells in sorted(self._posted(day).items())]
        return combined("people", "Posted orders", "orders", *each)

    def _standing_posted_packages(self, day: date, _part: str) -> Traced:
        return self.sum_of_cells("Posted packages", [cell for cells in self._posted(day).values() for cell in cells])

    # Due dates, each by its day

    def _due(self, day: date, part: str) -> Row:
        return next(due for due in self.dues(day) if due["due_on"].isoformat() == part)

    def _dues_amount(self, day: date, part: str) -> Traced:
        row = self._due(day, part)["collection"]
        if row is None:
            return stated("Announced", "money", None, note="No collection is announced for this day.")
        return self._announced(row)

    def _dues_due_by(self, day: date, part: str) -> Traced:
        due = self._due(day, part)
        if due["due_on"] > day:
            return stated("Due by then", "money", None, note="This day is still to come.")
        return self.due_by(due)

    def _dues_instalment(self, day: date, part: str) -> Traced:
        return self._instalment(day, part, 1)

    def _dues_unpaid(self, day: date, part: str) -> Traced:
        return self._instalment(day, part, 2)

    def _instalment(self, day: date, part: str, place: int) -> Traced:
        for made in self.instalments(day):
            if made[0].isoformat() == part:
                return made[place]  # type: ignore[return-value]
        return stated("Instalment", "money", None, note="This day is still to come.")

    def sum_of_cells(self, label: str, cells: list[Cell]) -> Traced:
        """Packages that cells say, added up."""
        return of_cells(label, "packages", cells)


def packages_of(label: str, sellers: list[Traced]) -> Traced:
    """The packages of participants, added up."""
    return total(label, "packages", *((1, one) for one in sellers))


def top_tenth(sellers: list[Traced]) -> list[Traced]:
    """The first tenth of sellers that are in order, at least one where there is any."""
    return sellers[: -(-len(sellers) // 10)]


def _cells(traced: Traced) -> list[Cell]:
    """All cells of a figure."""
    return [*traced.cells, *(cell for _sign, term in traced.terms for cell in _cells(term))]
