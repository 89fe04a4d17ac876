"""The rules that find slips in typing once more, in plain loops over rows, with the default thresholds written out.

Comes in: a season's rows and its oracle. Goes out: which slips a day has, and what is at stake in each.

Measured: 15 random seasons of 7 troops with slips of 14 kinds planted (slips.py) agree in rule, troop, subject and
amount.
"""

from collections import defaultdict

from oracle import NIL, Oracle


def slipped(amount, over, *, both_ways):
    """Whether a point one or two places off explains it: what is over is 9/10 or 99/100 of the amount, or lacks so."""
    if not amount or amount <= 0:
        return False
    return over in (amount * 9 / 10, amount * 99 / 100) or (both_ways and -over in (9 * amount, 99 * amount))


class Slips(Oracle):
    """Needs what plain_rules.Plain has: weeks, waiting()."""

    def slips(self, troop, day, _line):
        found = self.counted_in_cases(troop, day) | self.swapped(troop, day) | self.listed_again(troop, day)
        for week in self.weeks:
            if week <= day:
                for one in (self.so_far, self.again, self.damaged_or_held, self.card_banked, self.point, self.strangers,
                            self.stalls_in_cases):  # fmt: skip
                    found = one(troop, week) | found  # the first week's word on a subject stands
        return found | self.like_another(troop, day)

    def listed_again(self, troop, day):
        """Deposits of one day, amount and slip that stand more than once up to a day."""
        times = defaultdict(int)
        for row in self.of("banked", troop, day):
            if row["amount"] > 0:
                times[row["date"], row["amount"], (row["slip"] or "").strip()] += 1
        return {
            ("deposit_twice", f"{deposit[0]} {deposit[1]:.2f} {deposit[2]}".strip()): deposit[1] * (count - 1)
            for deposit, count in times.items()
            if count > 1
        }

    def lines(self, table, troop, week):
        return [r for r in self.rows[table] if (r["troop"], r["week_ending"]) == (troop, week)]

    def worth(self, rows):
        return sum(((r["packages"] or 0) * self.price[r["item"]] for r in rows if r["item"]), NIL)

    def counted_in_cases(self, troop, day):
        found = {}
        weeks = sorted(week for who, week in self.reported if who == troop and week <= day)
        for one in self.stock(troop, day):
            size = self.items[one["item"]].get("packages_per_case", 12)
            if one["on_hand"] and one["item"] in self.stocked and one["missing"]:
                expected = one["expected_on_hand"] - self.waiting(troop, day, one["item"], one["missing"], weeks)
                if size > 1 and expected // size == one["on_hand"] and expected - one["on_hand"] >= 12:
                    worth = (expected - one["on_hand"]) * self.price[one["item"]]
                    found["cases_for_packages", one["item"]] = worth
        return found

    def stalls(self, troop, week):
        """The rows of each stall of a week, by its name."""
        stalls = defaultdict(list)
        for row in self.lines("stalls", troop, week):
            stalls[row["date"], row["start"], row["place"]].append(row)
        return stalls

    def named(self, stall):
        on, start, place = stall
        return " ".join(p for p in ("stall", str(on), start and start.isoformat("minutes"), place) if p)

    def stalls_in_cases(self, troop, week):
        found = {}
        for stall, rows in self.stalls(troop, week).items():
            sold = [r for r in rows if r["item"]]
            size = {r["item"]: self.items[r["item"]].get("packages_per_case", 12) for r in sold}
            cases = sum((r["packages"] * size[r["item"]] * self.price[r["item"]] for r in sold), NIL)
            more = sum(r["packages"] * (size[r["item"]] - 1) for r in sold)
            if sold and cases == self.taken(rows) and more >= 12:
                found["cases_for_packages", self.named(stall)] = cases - self.worth(rows)
        return found

    def taken(self, rows):
        return sum(((r["cash"] or NIL) + (r["card"] or NIL) for r in rows), NIL)

    def so_far(self, troop, week):
        before, now = defaultdict(int), defaultdict(int)
        for row in self.of("families", troop, week):
            if row["item"]:
                (now if row["week_ending"] == week else before)[row["participant"], row["item"]] += row["packages"] or 0
        if not self.lines("families", troop, week) or not sum(now.values()) > sum(before.values()) > 0:
            return {}
        known = [key for key, packages in before.items() if packages > 0]
        again = [key for key in known if now[key] >= before[key]]
        if len(known) < 8 or len(again) * 20 < len(known) * 19:
            return {}
        worth = sum((before[key] * self.price[key[1]] for key in again), NIL)
        return {("week_is_cumulative", str(week)): worth}

    def filled(self, troop, week):
        return sorted(
            (r["participant"], r["item"] or "", r["packages"] or 0, r["cash"] or NIL, r["card"] or NIL)
            for r in self.lines("families", troop, week)
            if r["packages"] or r["cash"] or r["card"]
        )

    def again(self, troop, week):
        """Families of an earlier week, or stalls that stood in one."""
        worth, is_again = NIL, False
        earlier = [one for one in self.weeks if one < week]
        mine = self.filled(troop, week)
        if len(mine) >= 3 and any(line[1] for line in mine) and any(self.filled(troop, w) == mine for w in earlier):
            worth, is_again = worth + self.worth(self.lines("families", troop, week)), True

        def told(rows):
            sold = sum(r["packages"] or 0 for r in rows)
            cash, card = (sum(((r[name] or NIL) for r in rows), NIL) for name in ("cash", "card"))
            return (sold, self.worth(rows), cash, card)

        for stall, rows in self.stalls(troop, week).items():
            sold, value, cash, card = told(rows)
            before = [told(self.stalls(troop, w)[stall]) for w in earlier if stall in self.stalls(troop, w)]
            if (sold or cash or card) and (sold, value, cash, card) in before:
                worth, is_again = worth + value, True
        return {("week_sent_again", str(week)): worth} if is_again else {}

    def swapped(self, troop, day):
        found = {}
        off = [one for one in self.stock(troop, day) if one["item"] in self.stocked and one["missing"]]
        for one in off:
            for other in off:
                if one["missing"] < 6 or other["missing"] != -one["missing"]:
                    continue
                parts = {"Stock": one["_on_hand_or_expected"] - other["_on_hand_or_expected"]}
                for table in ("families", "stalls"):
                    sums = defaultdict(int)
                    for row in self.lines(table, troop, day):
                        sums[row["item"]] += row["packages"] or 0
                    parts[table] = sums[one["item"]] - sums[other["item"]]
                if -one["missing"] in parts.values():
                    subject = f"{one['item']} and {other['item']}"
                    found["columns_swapped", subject] = one["missing"] * self.price[one["item"]]
        return found

    def damaged_or_held(self, troop, week):
        return {
            ("columns_swapped", f"{week} {row['item']}"): row["damaged"] * self.price[row["item"]]
            for row in self.lines("stock", troop, week)
            if row["on_hand"] is not None and (row["damaged"] or 0) >= 6 and row["damaged"] > row["on_hand"]
        }

    def card_banked(self, troop, week):
        money = [*self.lines("families", troop, week), *self.lines("stalls", troop, week)]
        cash, card = (sum(((r[name] or NIL) for r in money), NIL) for name in ("cash", "card"))
        banked = sum((r["amount"] for r in self.lines("banked", troop, week)), NIL)
        if banked == card > 0 and card - cash >= 25:
            return {("columns_swapped", f"{week} cash and card"): card}
        return {}

    def point(self, troop, week):
        """Amounts with a decimal point that slipped; of several of one name the largest difference."""
        found = defaultdict(lambda: NIL)

        def hold(subject, cash, card, over, *, both_ways):
            is_slip = slipped(cash, over, both_ways=both_ways) or slipped(card, over, both_ways=both_ways)
            if abs(over) >= 50 and is_slip:
                found["decimal_slip", subject] = max(found["decimal_slip", subject], abs(over))

        for stall, rows in self.stalls(troop, week).items():
            cash, card = (sum(((r[name] or NIL) for r in rows), NIL) for name in ("cash", "card"))
            if (value := self.worth(rows)) > 0:
                hold(self.named(stall), cash, card, cash + card - value, both_ways=True)
        for who in {r["participant"] for r in self.lines("families", troop, week)}:
            rows = [r for r in self.of("families", troop, week) if r["participant"] == who]
            now = [r for r in rows if r["week_ending"] == week]
            cash, card = (sum(((r[name] or NIL) for r in now), NIL) for name in ("cash", "card"))
            owed = self.worth(rows) - self.taken(rows) + cash + card
            for should in (owed, self.worth(now)):
                if should > 0:
                    hold(f"{week} {who}", cash, card, cash + card - should, both_ways=False)
        came = sum((r["cash"] or NIL for t in ("families", "stalls") for r in self.of(t, troop, week)), NIL)
        banked = sum((r["amount"] for r in self.of("banked", troop, week)), NIL)
        for row in self.lines("banked", troop, week):
            waited = came - (banked - row["amount"])
            if waited > 0:
                subject = " ".join(part for part in ("deposit", str(row["date"]), row["slip"]) if part)
                hold(subject, row["amount"], NIL, row["amount"] - waited, both_ways=False)
        return dict(found)

    def strangers(self, troop, week):
        busy = {
            r["participant"] for r in self.lines("families", troop, week) if r["packages"] or r["cash"] or r["card"]
        }
        homes = defaultdict(set)
        for row in self.rows["roster"]:
            if row["participant"] in busy:
                homes[row["participant"]].add(row["troop"])
        own = sum(troop in of for of in homes.values())
        others = [home for of in homes.values() if troop not in of for home in of]
        return {
            ("another_troops_file", f"{week} {home}"): None
            for home in set(others)
            if others.count(home) >= 3 and others.count(home) > own
        }

    def like_another(self, troop, day):
        def counts(who, name):
            return {x["item"]: x[name] for x in self.stock(who, day) if x["item"] in self.stocked}

        counted = {item: number for item, number in counts(troop, "on_hand").items() if number is not None}
        off = [item for item, missing in counts(troop, "missing").items() if missing is not None and abs(missing) >= 2]
        if len(off) < 3 or not sum(counted.values()):
            return {}
        shown = {who: counts(who, "_on_hand_or_expected") for who in self.troops if who != troop}
        alike = [who for who, has in shown.items() if counted.items() <= has.items()]
        if not alike:
            return {}
        rest = [has for who, has in shown.items() if who != alike[0]]
        chance = max(sum(item in has for has in rest) for item in counted) + 2.0
        for item, number in counted.items():
            has_item = [has[item] for has in rest if has.get(item) is not None]
            chance *= has_item.count(number) / max(len(has_item), 1)
        return {("another_troops_file", f"{day} {who} counts"): None for who in alike if chance <= 0.05}
