"""How what is due, and what families owe by age, is worked out from cells.

Comes in: Evidence. Goes out: Traced trees of due dates, the bank, and the age of what is owed.
"""

from datetime import date, timedelta
from typing import Literal

from pipelines.tracing.evidence import Row
from pipelines.tracing.formulas import DONATED, OUT, Part
from pipelines.tracing.formulas_sold import SoldFormulas
from pipelines.tracing.terms import Traced, combined, not_below_0, of_cells, picked, stated, total

Age = Literal["0_7", "8_14", "15_30", "over_30"]
AGES: dict[Age, tuple[int, int]] = {"0_7": (0, 7), "8_14": (8, 14), "15_30": (15, 30), "over_30": (31, 100_000)}
BANK_DAYS = 7  # a balance counts that was read for one of these days up to the day


class AllFormulas(SoldFormulas):
    """The measures of one troop, due dates and ages included."""

    # Due dates

    def dues(self, day: date) -> list[Row]:
        """The troop's due dates known by a day, oldest first: due_on, and its collection or the season's own share."""
        found: dict[date, Row] = {}
        for due in self.evidence.season_dues:
            found[due["due_on"]] = {"due_on": due["due_on"], "rule": due, "collection": None}
        for row in self.evidence.rows("collections"):  # in the order announced: the latest holds
            if row["announced_on"] <= day:
                found[row["on"]] = {"due_on": row["on"], "rule": None, "collection": row}
        return [found[due_on] for due_on in sorted(found)]

    def _credits(self, day: date) -> Traced:
        return not_below_0("Credited, not below 0", "money", self.of("standing", "credits", day))

    def _share_of(self, due: Row, day: date) -> Traced:
        """The season's share of charged less proceeds as of a day."""
        rule = due["rule"]
        cell = self.evidence.rule(f"dues[{rule['due_no']}].share", rule["share"])
        charged, proceeds = self.of("standing", "charged", day), self.of("standing", "proceeds", day)
        less = total(f"Charged less proceeds on {day}", "money", (1, charged), (-1, proceeds))
        return combined("product", "The season's share", "money", picked("Share", "share", cell), less)

    def due_by(self, due: Row) -> Traced:
        """All that must have been credited by a due date."""
        row = due["collection"]
        if row is None:
            return not_below_0("Due by then, an estimate", "money", self._share_of(due, due["rule"]["cutoff_on"]))
        amount = self._announced(row)
        return total("Due by then", "money", (1, self._credits(row["announced_on"])), (1, amount))

    def _announced(self, row: Row) -> Traced:
        note = f"announced on {row['announced_on']}"
        return of_cells(
            "Announced", "money", [self.evidence.cell(row, "collections", "amount", row["amount"], note=note)]
        )

    def instalments(self, day: date) -> list[tuple[date, Traced, Traced]]:
        """Every due date reached by a day, oldest first: its day, what it asks for, what of that is unpaid."""
        reached = [due for due in self.dues(day) if due["due_on"] <= day]
        asked = [self.due_by(due) for due in reached]
        credited = self._credits(day)
        made = []
        before = None
        for place, due in enumerate(reached):
            label = f"Due in all by {due['due_on']}"
            due_in_all = combined("least", label, "money", *asked[place:]) if asked[place + 1 :] else asked[place]
            terms = [(1, due_in_all), *([(-1, before)] if before else [])]
            instalment = total(f"Instalment of {due['due_on']}", "money", *terms)
            left = not_below_0("Not credited yet", "money", total("Left", "money", (1, due_in_all), (-1, credited)))
            unpaid = combined("least", f"Unpaid of {due['due_on']}", "money", instalment, left)
            made.append((due["due_on"], instalment, unpaid))
            before = due_in_all
        return made

    def is_being_collected(self, due_on: date, day: date) -> bool:
        """Whether a due date may still be clearing on a day, and no payment made since has come back."""
        came_back = any(
            row["state"] == "returned"
            and row["date"] >= due_on
            and row["from_on"] <= day
            and (row["until_on"] is None or row["until_on"] > day)
            for row in self.evidence.rows("remittances")
        )
        return (day - due_on).days <= self.evidence.rules["settle_days"] and not came_back

    def _standing_being_collected(self, day: date, _part: str) -> Traced:
        due = [(1, unpaid) for on, _asked, unpaid in self.instalments(day) if self.is_being_collected(on, day)]
        return total("Being collected", "money", *due)

    def _past_due(self, day: date, age: Age) -> Traced:
        low, high = AGES[age]
        late = [
            (1, unpaid)
            for on, _asked, unpaid in self.instalments(day)
            if not self.is_being_collected(on, day) and low <= (day - on).days <= high
        ]
        return total("Past due", "money", *late)

    def _standing_past_due_0_7(self, day: date, _part: str) -> Traced:
        return self._past_due(day, "0_7")

    def _standing_past_due_8_14(self, day: date, _part: str) -> Traced:
        return self._past_due(day, "8_14")

    def _standing_past_due_15_30(self, day: date, _part: str) -> Traced:
        return self._past_due(day, "15_30")

    def _standing_past_due_over_30(self, day: date, _part: str) -> Traced:
        return self._past_due(day, "over_30")

    def _next(self, day: date) -> Row | None:
        return next((due for due in self.dues(day) if due["due_on"] > day), None)

    def _standing_next_due_on(self, day: date, _part: str) -> Traced:
        due = self._next(day)
        if due is None:
            return stated("Next due on", "date", None, note="There is no due date after this day.")
        row = due["collection"]
        if row:
            return picked("Next due on", "date", self.evidence.cell(row, "collections", "on", row["on"]))
        return picked("Next due on", "date", self.evidence.rule(f"dues[{due['rule']['due_no']}].on", due["due_on"]))

    def _standing_next_due(self, day: date, _part: str) -> Traced:
        due = self._next(day)
        if due is None:
            return stated("Next due", "money", None, note="There is no due date after this day.")
        if due["collection"]:
            return self._announced(due["collection"])
        taken_off = [(-1, self.of("standing", name, day)) for name in ("credits", "being_collected")]
        return not_below_0(
            "Next due", "money", total("Still to pay", "money", (1, self._share_of(due, day)), *taken_off)
        )

    def _standing_bank(self, day: date, _part: str) -> Traced:
        read = [
            row
            for row in self.evidence.rows("cover")
            if row["bank_balance"] is not None
            and row["balance_on"] is not None
            and day - timedelta(days=BANK_DAYS - 1) <= row["balance_on"] <= day
        ]
        if not read:
            return self.of("standing", "in_bank", day)
        row = max(read, key=lambda row: (row["balance_on"], row["week_ending"]))
        note = f"read for {row['balance_on']}"
        return picked(
            "Balance read", "money", self.evidence.cell(row, "cover", "bank_balance", row["bank_balance"], note=note)
        )

    def _standing_cover(self, day: date, _part: str) -> Traced:
        bank, collected, due = (self.of("standing", name, day) for name in ("bank", "being_collected", "next_due"))
        return total("Cover", "money", (1, bank), (-1, collected), *([] if due.value is None else [(-1, due)]))

    def _standing_submitted(self, day: date, _part: str) -> Traced:
        cells = [
            self.evidence.cell(row, "stock", "item", row["item"])
            for row in self.evidence.rows("stock")
            if row["week_ending"] == day
        ]
        return stated("Submitted", "yes or no", bool(cells), cells)

    # Families by age

    def _weeks(self, day: date, who: str) -> list[tuple[date, Traced]]:
        """What a family was charged in each week, less what it brought back, oldest first."""
        mine = [row for row in self.evidence.entries if row["participant"] == who and row["kind"] in OUT | DONATED]
        part = Part("Taken", OUT | DONATED)
        return [
            (week, self.parts(f"Week to {week}", "money", (part,), day, lambda row, week=week: (  # type: ignore[misc]
                row["participant"] == who and row["on_day"] == week)))
            for week in sorted({row["on_day"] for row in mine if row["on_day"] <= day})
        ]  # fmt: skip

    def _owes(self, day: date, who: str, age: Age) -> Traced:
        weeks = self._weeks(day, who)
        back = total("Brought back", "money", *((-1, charged) for _week, charged in weeks if charged.value < 0))
        paid = self.of("families", "paid", day, who)
        in_all = total("Paid and brought back", "money", (1, paid), (1, back))
        taken_off = not_below_0("Paid and brought back, not below 0", "money", in_all)
        so_far: list[tuple[int, Traced]] = []
        terms = []
        for week, charged in weeks:
            if charged.value <= 0:
                continue
            so_far.append((1, charged))
            left = total("Not paid yet", "money", *so_far, (-1, taken_off))
            unpaid = combined("least", f"Unpaid of {week}", "money", charged, not_below_0("Left", "money", left))
            if AGES[age][0] <= (day - week).days <= AGES[age][1]:
                terms.append((1, unpaid))
        if age == "0_7" and in_all.value < 0:
            terms.append(
                (1, not_below_0("Refunded beyond what was paid", "money", total("Refunded", "money", (-1, in_all))))
            )
        return total("Owes", "money", *terms)

    def _families_owes_0_7(self, day: date, part: str) -> Traced:
        return self._owes(day, part, "0_7")

    def _families_owes_8_14(self, day: date, part: str) -> Traced:
        return self._owes(day, part, "8_14")

    def _families_owes_15_30(self, day: date, part: str) -> Traced:
        return self._owes(day, part, "15_30")

    def _families_owes_over_30(self, day: date, part: str) -> Traced:
        return self._owes(day, part, "over_30")

    def _families_overpaid(self, day: date, part: str) -> Traced:
        paid = [(1, self.of("families", name, day, part)) for name in ("paid_cash", "paid_card", "settled")]
        charged = self.of("families", "charged", day, part)
        return not_below_0("Overpaid", "money", total("Beyond the charge", "money", *paid, (-1, charged)))

    def _families_paid_ahead(self, day: date, part: str) -> Traced:
        ahead = not_below_0(
            "Paid ahead in all", "money", total("", "money", (-1, self.of("families", "owes", day, part)))
        )
        over = self.of("families", "overpaid", day, part)
        return not_below_0("Paid ahead", "money", total("Of it not overpaid", "money", (1, ahead), (-1, over)))
