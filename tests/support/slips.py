"""Slips in typing planted into a random season, one of each kind where the season has the rows for it.

Comes in: a Made season. Goes out: the same, its rows altered in place, and which kinds were planted.
"""

import random
from collections import defaultdict
from decimal import Decimal

from plain_rules import Plain

NIL = Decimal("0.00")


class Planter:
    """Alters rows of a season; each kind gets a troop and week of its own."""

    def __init__(self, made):
        self.made = made
        self.tables = made.tables
        self.dice = random.Random(made.seed + 3)  # noqa: S311 - dice for a test
        self.planted = set()

    def plant(self):
        kinds = ["so_far", "again", "stall_again", "cases", "stall_cases", "counts", "columns", "damaged", "card",
                 "stall_point", "family_point", "deposit_point", "deposit_again",
                 "strangers", "others_counts"]  # fmt: skip
        self.dice.shuffle(kinds)
        for kind in kinds:
            for troop in self.dice.sample(self.made.troops, len(self.made.troops)):
                week = self.dice.choice(self.made.weeks[1:])
                if getattr(self, kind)(troop, week):
                    self.planted.add(kind)
                    break
        if any(self.own_online(troop, week) for troop in self.made.troops for week in self.made.weeks[1:]):
            self.planted.add("own_online")
        return self.planted

    def own_online(self, troop, week):
        """Card money that is what buyers paid the organisation online for orders that the family delivers."""
        known = {one["participant"]: one["paid_online"] for one in Plain(self.made).families(troop, week)}
        for row in self.lines("families", troop, week):
            if not row["item"] and row["participant"] != "troop" and known[row["participant"]] > 0:
                row["card"] = known[row["participant"]]
                return True
        return False

    def lines(self, table, troop, week):
        return [r for r in self.tables[table] if (r["troop"], r["week_ending"]) == (troop, week)]

    def deposits(self, troop, week):
        """The rows of the bank that are deposits, not fees or cheques that came back."""
        return [row for row in self.lines("banked", troop, week) if row.get("kind") in (None, "", "deposit")]

    def counted(self, troop, week):
        """The stock rows of a week by item, with what should be on hand."""
        known = {one["item"]: one for one in Plain(self.made).stock(troop, week)}
        return {r["item"]: (r, known[r["item"]]["expected_on_hand"]) for r in self.lines("stock", troop, week)}

    def worth(self, rows):
        return sum((r["packages"] * self.price(r["item"]) for r in rows if r["item"]), NIL)

    def price(self, item):
        return next(Decimal(one["price"]) for one in self.made.rules["items"] if one["code"] == item)

    def so_far(self, troop, _week):
        week = self.made.weeks[-1]
        sums = defaultdict(int)
        for row in self.tables["families"]:
            if row["troop"] == troop and row["item"]:
                sums[row["participant"], row["item"]] += row["packages"]
        if sum(packages > 0 for packages in sums.values()) < 8:
            return False
        self.tables["families"] = [
            r for r in self.tables["families"] if (r["troop"], r["week_ending"]) != (troop, week) or not r["item"]
        ]
        blank = {"troop": troop, "week_ending": week, "cash": None, "card": None, "note": None}
        for (who, item), packages in sums.items():
            self.tables["families"].append(blank | {"participant": who, "item": item, "packages": max(packages, 1)})
        return True

    def again(self, troop, week):
        before = self.made.weeks[self.made.weeks.index(week) - 1]
        copied = [row | {"week_ending": week} for row in self.lines("families", troop, before)]
        if len(copied) < 6:
            return False
        gone = self.lines("families", troop, week)
        self.tables["families"] = [row for row in self.tables["families"] if row not in gone] + copied
        return True

    def stall_again(self, troop, week):
        before = self.made.weeks[self.made.weeks.index(week) - 1]
        copied = [row | {"week_ending": week} for row in self.lines("stalls", troop, before)]
        if not copied:
            return False
        self.tables["stalls"] = [
            row for row in self.tables["stalls"] if (row["troop"], row["week_ending"]) != (troop, week)
        ] + copied
        return True

    def cases(self, troop, week):
        for row, expected in self.counted(troop, week).values():
            if expected >= 24:
                row["on_hand"] = expected // 12
                return True
        return False

    def stall_cases(self, troop, week):
        return self.stall(troop, week, lambda value: value * 12)

    def stall_point(self, troop, week):
        return self.stall(troop, week, lambda value: value * self.dice.choice([10, 100]))

    def stall(self, troop, week, takings):
        for row in self.lines("stalls", troop, week):
            rows = [r for r in self.lines("stalls", troop, week)
                    if all(r[n] == row[n] for n in ("date", "start", "place"))]  # fmt: skip
            money = next((r for r in rows if not r["item"]), None)
            if money and self.worth(rows) > 0:
                money["cash"], money["card"] = takings(self.worth(rows)), NIL
                return True
        return False

    def counts(self, troop, week):
        pairs = [(row, expected) for row, expected in self.counted(troop, week).values() if expected >= 0]
        for one, first in pairs:
            for other, second in pairs:
                if first - second >= 6:
                    one["on_hand"], other["on_hand"] = second, first
                    return True
        return False

    def columns(self, troop, week):
        pairs = list(self.counted(troop, week).items())
        sums = defaultdict(int)
        for row in self.lines("families", troop, week):
            sums[row["item"]] += row["packages"]
        for item, (one, first) in pairs:
            for code, (other, second) in pairs:
                lacking = sums[code] - sums[item]
                if lacking >= 6 and first - lacking >= 0 and second + lacking >= 0:
                    one["on_hand"], other["on_hand"] = first - lacking, second + lacking
                    return True
        return False

    def damaged(self, troop, week):
        for row in self.lines("stock", troop, week)[:1]:
            row["damaged"], row["on_hand"] = 9, 3
            return True
        return False

    def card(self, troop, week):
        money = [*self.lines("families", troop, week), *self.lines("stalls", troop, week)]
        card = sum((r["card"] or NIL for r in money), NIL)
        rows = self.lines("banked", troop, week)
        if card <= 0 or not self.deposits(troop, week):
            return False
        for row in rows:
            row["amount"], row["note"] = NIL, None
        self.deposits(troop, week)[0]["amount"] = card
        return True

    def family_point(self, troop, week):
        for row in self.lines("families", troop, week):
            own = [r for r in self.lines("families", troop, week) if r["participant"] == row["participant"]]
            money = next((r for r in own if not r["item"]), None)
            if money and self.worth(own) > 0:
                money["cash"], money["card"] = self.worth(own) * self.dice.choice([10, 100]), NIL
                return True
        return False

    def deposit_point(self, troop, week):
        upto = [r for t in ("families", "stalls") for r in self.tables[t] if r["troop"] == troop]
        came = sum((r["cash"] or NIL for r in upto if r["week_ending"] <= week), NIL)
        banked = [r for r in self.tables["banked"] if r["troop"] == troop and r["week_ending"] <= week]
        for row in self.deposits(troop, week)[:1]:
            waits = came - sum((r["amount"] for r in banked if r is not row), NIL)
            if waits > 0:
                row["amount"], row["note"] = waits * 10, None
                return True
        return False

    def deposit_again(self, troop, week):
        before = self.made.weeks[self.made.weeks.index(week) - 1]
        for row in self.deposits(troop, before)[:1]:
            if row["amount"] > 0:
                self.tables["banked"].append(row | {"week_ending": week})
                return True
        return False

    def strangers(self, troop, week):
        others = sorted({r["participant"] for r in self.tables["roster"] if r["troop"] != troop})
        homes = defaultdict(list)
        for code in others:
            homes[code[:4]].append(code)
        people = sorted({r["participant"] for r in self.lines("families", troop, week)})
        for codes in homes.values():
            if len(codes) >= 3 and len(people) >= 3:
                known = dict(zip(people, codes, strict=False))
                for row in self.lines("families", troop, week):
                    row["participant"] = known.get(row["participant"], row["participant"])
                return True
        return False

    def others_counts(self, troop, week):
        rows = self.lines("stock", troop, week)
        for other in self.made.troops:
            held = {one["item"]: one["_on_hand_or_expected"] for one in Plain(self.made).stock(other, week)}
            if other != troop and len(rows) >= 3 and min(held.values()) >= 0:
                for row in rows:
                    row["on_hand"] = held[row["item"]]
                return True
        return False
