"""Every rule of the exceptions once more, in plain loops over rows, with the default thresholds written out.

Comes in: a random season (rows by table, earlier versions of some). Goes out: which exceptions a day has, and what is
at stake in each. It shares no line with pipelines/; the base figures are the oracle's.

Measured: over 46 random seasons of 7 troops, all published weeks, both agree in rule, troop, subject and amount. 41
alterations of the SQL, one at a time: 37 were noticed; one altered nothing (the condition went), three got a test of
their own and are noticed now.
"""

from collections import defaultdict
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cache

from oracle import NIL, RANKS, on_day, to_cents
from plain_outlook import outlook_of, quantile
from plain_slips import Slips
from scipy.stats import betabinom, binom, false_discovery_control, norm

CENT = Decimal("0.01")


def money(rows, *names):
    """The sum of some columns of rows; an empty cell is nil."""
    return sum((row[name] or NIL for row in rows for name in names), NIL)


class Plain(Slips):
    """The exceptions of one season."""

    def __init__(self, made):
        super().__init__(made.rules, made.tables)
        self.weeks = made.weeks
        self.ahead = cache(self._ahead)
        self.drafts = made.drafts
        for name in ("pages", "organisation_balance", "last_season"):
            self.rows[name] = made.tables[name]
        frame = made.rules["season"]
        self.first_day = frame["first_day"]

    def exceptions(self, day):
        """{(rule, troop, subject): what is at stake}."""
        found = {}
        for troop in self.troops:
            line = self.standing(troop, day)
            for rule in (
                self.submissions, self.organisation, self.bank, self.cash, self.family_accounts, self.stock_rules,
                self.counted_twice, self.far_too_much, self.people, self.online, self.slips,
            ):  # fmt: skip
                for (name, subject), at_stake in rule(troop, day, line).items():
                    found[name, troop, subject] = at_stake
        return found | self.moves(day) | self.few(day) | self.averages(day)

    # Submissions

    def submissions(self, troop, day, line):
        found = {}
        for week in self.weeks:
            if week > day:
                continue
            then = self.standing(troop, week)
            if (troop, week) not in self.reported and (then["registered"] or then["available"]):
                found["submission_missing", str(week)] = None
            for table in ("families", "stalls", "banked"):
                old = [r for r in self.drafts[table] if (r["troop"], r["week_ending"]) == (troop, week)]
                new = [r for r in self.rows[table] if (r["troop"], r["week_ending"]) == (troop, week)]
                if not old or not new:
                    continue
                names = ("amount",) if table == "banked" else ("cash", "card")
                less = money(old, *names) - money(new, *names)
                packages = [sum(r.get("packages") or 0 for r in rows) for rows in (old, new)]
                worth = [
                    sum((r["packages"] or 0) * self.price[r["item"]] for r in rows if r.get("item"))
                    for rows in (old, new)
                ]
                if less >= 5 or packages[0] - packages[1] >= 2:
                    value = worth[0] - worth[1]
                    at_stake = less if less >= 5 else value if value > 0 else None
                    found["submission_lower", f"{week} {table}"] = at_stake
        lacking = [one for one in self.stock(troop, day) if one["item"] in self.stocked and one["on_hand"] is None
                   and one["available"] > 0]  # fmt: skip
        if line["submitted"] and lacking:
            found["not_counted", ""] = sum((x["expected_on_hand"] * self.price[x["item"]] for x in lacking), NIL)
        return found

    # Money with the organisation

    def organisation(self, troop, day, line):
        found = {}
        if line["past_due"] >= 1:
            found["past_due", ""] = line["past_due"]
        cover = min(one for one in (line["cover"], line["cover_if_apart"]) if one is not None)
        if line["next_due_on"] and cover <= -5 and (line["next_due_on"] - day).days <= 14:
            found["may_not_be_covered", ""] = -cover
        now = self.remittances(troop, day)
        for row in now:
            later = sum((r["amount"] for r in now if r["state"] == "cleared" and r["date"] > row["date"]), NIL)
            if row["state"] == "returned" and later < row["amount"]:
                found["remittance_returned", row["reference"]] = row["amount"]
        earlier = [week for week in self.weeks if week < day]
        if earlier:
            fell = Decimal(self.standing(troop, earlier[-1])["proceeds_rate"]) - Decimal(line["proceeds_rate"])
            cost = to_cents(Fraction(fell) * line["_packages_charged"])
            if fell > 0 and cost > 0:
                found["rate_fell", ""] = cost
        cleared = sorted((r["date"], r["reference"], r["amount"]) for r in now if r["state"] == "cleared")
        due = max((by for _on, by in self.reached(troop, day)[-1:]), default=NIL)
        for on, reference, amount in cleared:
            before = [one for one in cleared if one < (on, reference, amount) and one[2] == amount]
            if any((on - one[0]).days <= 10 for one in before) and line["credits"] > due:
                found["taken_twice", reference] = amount
        found |= self.sent_twice(troop, day, line["credits"] - due)
        given = [r for r in self.rows["organisation_balance"] if r["troop"] == troop and r["on"] <= day]
        if given:
            last = max(given, key=lambda r: r["on"])
            charged, _rate, proceeds, _sold = self.money(troop, last["on"])
            difference = abs(last["owed"] - (charged - proceeds - self.credits(troop, last["on"])))
            if difference >= 1:
                found["books_differ", ""] = difference
        return found

    def sent_twice(self, troop, day, over):
        """Payments that were sent more than once after one of their amount had come back."""
        found = {}
        for row in self.rows["remittances"]:
            if row["troop"] == troop and row["state"] == "returned" and max(row["state_on"], row["date"]) <= day:
                since = self.sent_since(troop, day, row)
                for k, (_on, reference, _state) in enumerate(since):
                    coming = sum(state == "pending" for *_, state in since[: k + 1]) * row["amount"]
                    if k and over + coming > 0:
                        found["taken_twice", reference] = row["amount"]
        return found

    def sent_since(self, troop, day, back):
        """Payments of the amount of one that came back, itself among them, that were sent after it had."""
        came_back, found = max(back["state_on"], back["date"]), []
        for row in self.states(troop, day):
            if row["amount"] != back["amount"] or row["state"] == "returned":
                continue
            on = max(row["state_on"], row["date"]) if row["reference"] == back["reference"] else row["date"]
            if (on > came_back) if row["reference"] == back["reference"] else (on >= came_back):
                found.append((on, row["reference"], row["state"]))
        return sorted(found)

    # Cash and bank

    def bank(self, troop, day, _line):
        read = [r for r in self.of("cover", troop, day) if r["bank_balance"] is not None and r["balance_on"]
                and r["balance_on"] <= day]  # fmt: skip
        if not read:
            return {}
        last = max(read, key=lambda r: (r["balance_on"], r["week_ending"]))
        on = last["balance_on"]
        low = high = money([r for r in self.of("banked", troop, day) if r["date"] <= on], "amount")
        card = defaultdict(lambda: NIL)
        for table in ("families", "stalls"):
            for row in self.of(table, troop, day):
                card[table, row["week_ending"]] += row["card"] or NIL
        for (_table, week), amount in card.items():
            if week <= on:
                low, high = low + amount, high + amount
            elif week < on + timedelta(7):
                low, high = low + min(amount, NIL), high + max(amount, NIL)
        for row in self.states(troop, on):
            if row["state"] in ("cleared", "pending"):
                low -= row["amount"]
                high -= row["amount"] if row["state"] == "cleared" else 0
        if low - last["bank_balance"] >= 25:
            return {("bank_differs", ""): low - last["bank_balance"]}
        if last["bank_balance"] - high >= 500 and on >= day - timedelta(6):
            return {("bank_differs", ""): last["bank_balance"] - high}
        return {}

    def states(self, troop, day):
        """Remittances with the state they are in on a day, pending before the first known one."""
        references = defaultdict(list)
        for row in self.rows["remittances"]:
            if row["troop"] == troop and row["date"] <= day:
                references[row["reference"]].append(row)
        ranks = ["pending", "cleared", "returned"]
        for rows in references.values():
            row = on_day(rows, ranks, day)
            yield row or {**min(rows, key=lambda r: (r["state_on"], ranks.index(r["state"]))), "state": "pending"}

    def cash(self, troop, day, line):
        found = {}
        cash = [
            (r["week_ending"], r["cash"])
            for table in ("families", "stalls")
            for r in self.of(table, troop, day)
            if r["cash"]
        ]
        cash += [(r["week_ending"], r["gift"]) for r in self.of("stalls", troop, day) if r.get("gift")]
        deposits = [r for r in self.of("banked", troop, day) if (r.get("kind") or "deposit") == "deposit"]
        gone = money(deposits, "amount") - sum((c for _w, c in cash if c < 0), NIL)
        old = sum((c for week, c in cash if c > 0 and (day - week).days >= 7), NIL)
        if old - max(gone, NIL) >= 25:
            found["cash_not_banked", ""] = old - max(gone, NIL)
        if line["not_banked"] <= -5:
            found["deposit_over_cash", ""] = -line["not_banked"]
        stalls = defaultdict(list)
        for row in self.of("stalls", troop, day):
            stalls[row["week_ending"], row["date"], row["start"], row["place"]].append(row)
        known = set()
        for (week, on, start, place), rows in sorted(stalls.items(), key=lambda pair: pair[0][0]):
            worth = sum(((r["packages"] or 0) * self.price[r["item"]] for r in rows if r["item"]), NIL)
            off = abs(worth - money(rows, "cash", "card"))
            if off >= 10:
                again = f"in the week to {week}" if (on, start, place) in known else None
                known.add((on, start, place))
                parts = (str(on), start and start.isoformat("minutes"), place, again)
                found["stall_differs", " ".join(part for part in parts if part)] = off
                page = sum((one["owes"] for one in self.families(troop, day) if one["participant"] == "troop"), NIL)
                if worth - money(rows, "cash", "card") == -page > 0:
                    found["stall_and_page", " ".join(part for part in parts if part)] = off
        same = defaultdict(int)
        for row in self.of("banked", troop, day):
            if row.get("kind") == "returned_cheque" and not row["participant"] and -row["amount"] >= 10:
                same[row["date"], row["amount"]] += 1
                times = same[row["date"], row["amount"]]
                again = f" no. {times}" if times > 1 else ""
                found["stall_differs", f"cheque {row['date']} {-row['amount']:.2f}{again}"] = -row["amount"]
        return found

    # Families

    def family_accounts(self, troop, day, _line):
        found = {}
        left = {
            r["participant"]
            for r in self.rows["roster"]
            if r["troop"] == troop and r["left_on"] and r["left_on"] <= day
        }
        for one in self.families(troop, day):
            code = one["participant"]
            if self.household_is_even(troop, day, code):
                continue
            before, now = self.in_other_troops(troop, day, code)
            if one["overpaid"] >= 5 and (not before or sum(k["owes"] for k in before) + one["owes"] <= 0):
                found["family_overpaid", code] = one["overpaid"]
            together = one["owes"] + sum(k["owes"] for k in (*before, *now))
            called = any(self.is_behind(k) for k in now)
            if code in left and one["owes"] >= 1 and not (now and (together <= 0 or called)):
                found["leaver_with_debt", code] = one["owes"]
            if code not in left and self.is_behind(one) and not (before and together <= 0):
                found["family_behind", code] = one["owes_15_30"] + one["owes_over_30"]
        return found

    @staticmethod
    def is_behind(one):
        """Whether a family is far behind."""
        return one["participant"] != "troop" and one["owes"] >= 50 and one["owes_15_30"] + one["owes_over_30"] >= 50

    def household_is_even(self, troop, day, code):
        """Whether the children of one household owe nothing together."""
        house = {r["participant"]: r.get("household") for r in self.rows["roster"] if r["troop"] == troop}
        together = [k["owes"] for k in self.families(troop, day)
                    if house.get(code) and house.get(k["participant"]) == house[code]]  # fmt: skip
        return len(together) > 1 and sum(together) == 0

    def in_other_troops(self, troop, day, code):
        """The accounts of a participant in the troops left for this one, and in the one this was left for."""
        on = sorted((r["registered_on"], r["troop"]) for r in self.rows["roster"] if r["participant"] == code)
        others = [one for _on, other in on if other != troop for one in self.families(other, day)
                  if one["participant"] == code]  # fmt: skip
        return (others, []) if not on or on[-1][1] == troop else ([], others)

    def counted_twice(self, troop, day, _line):
        """Money in two places, packages given back twice."""
        found = {}
        families = {one["participant"]: one for one in self.families(troop, day)}
        for row in self.of("families", troop, day):
            one = families[row["participant"]]
            orders = [(r, far) for r, far in self.orders(troop, day) if r["participant"] == row["participant"]]
            in_all = one["paid_online"] + sum((r["goods_amount"] for r, far in orders if far), NIL)
            if row["participant"] != "troop" and (row["card"] or 0) > 0 and row["card"] in (one["paid_online"], in_all):
                found["card_is_online", f"{row['participant']} {row['week_ending']}"] = row["card"]
        for one in self.stock(troop, day):
            if one["damaged"] < 0:
                found["exchanged_over_damaged", one["item"]] = -one["damaged"] * self.price[one["item"]]
        return found

    # Packages

    def stock_rules(self, troop, day, _line):
        found = {}
        weeks = sorted(week for who, week in self.reported if who == troop and week <= day)
        ahead, coming = self.ahead(day)
        for one in self.stock(troop, day):
            code, price = one["item"], self.price[one["item"]]
            if code not in self.stocked:
                continue
            if one["missing"]:
                waiting = self.waiting(troop, day, code, one["missing"], weeks)
                rest = one["missing"] - waiting
                if abs(waiting) >= 2:
                    found["supply_differs", code] = abs(waiting) * price
                if abs(rest) >= 2:
                    found["packages_missing", code] = abs(rest) * price
            if (troop, code) not in ahead:
                continue
            needed = self.needed(troop, day, code)
            over = one["_on_hand_or_expected"] - max(needed, quantile(0.9, *ahead[troop, code]))
            if len(weeks) >= 3 and over >= 2 * self.items[code].get("packages_per_case", 12):
                found["slow_stock", code] = over * price
            lacking = max(needed, quantile(0.5, *coming[troop, code])) - one["_on_hand_or_expected"]
            if coming[troop, code][0] and lacking >= 4:
                found["running_out", code] = lacking * price
        return found

    def _ahead(self, day):
        """Mean and variance of what will go out of stock in the rest of the season, and in the week to come."""
        found = outlook_of(self, self.rows["last_season"], self.weeks, day)
        return (found.rows(), found.rows(found.w + 1, min(found.w + 1, found.W))) if found.known else ({}, {})

    def needed(self, troop, day, code):
        """Packages of hand-delivered orders that are paid and that the family has not taken."""
        ordered, taken = defaultdict(int), defaultdict(int)
        for row, is_remote in self.orders(troop, day):
            if not is_remote and row["item"] == code:
                ordered[row["participant"] or "troop"] += row["packages"]
        for row in self.of("families", troop, day):
            if row["item"] == code:
                taken[row["participant"]] += row["packages"] or 0
        return sum(max(0, packages - max(0, taken[who])) for who, packages in ordered.items())

    def waiting(self, troop, day, code, missing, weeks):
        """The part of what is missing that the troop's receipts explain against the feed."""
        received = sum(r["received"] or 0 for r in self.of("stock", troop, day) if r["item"] == code)
        recorded = 0
        for row in self.rows["supply"]:
            if (
                (row["troop"], row["item"]) == (troop, code)
                and row["kind"] in ("opening", "depot")
                and row["date"] <= day
            ):
                week = next((w for w in self.weeks if w >= row["date"]), None)
                recorded += row["packages"] if week in weeks else 0
        explained = recorded - received
        if not received or explained * missing <= 0:
            return 0
        return max(-abs(missing), min(abs(missing), explained))

    def moves(self, day):
        told = defaultdict(lambda: {"in": 0, "out": 0})
        for row in self.rows["moves"]:
            one, other, week = row["troop"], row["other_troop"], row["week_ending"]
            if week <= day and {(one, week), (other, week)} <= self.reported:
                pair = (one, other) if row["direction"] == "out" else (other, one)
                told[*pair, row["item"]][row["direction"]] += row["packages"]
        found = {}
        for (giver, taker, code), said in told.items():
            if said["in"] != said["out"]:
                troop, subject = (giver, f"{code} to {taker}") if not said["out"] else (taker, f"{code} from {giver}")
                found["move_differs", troop, subject] = abs(said["in"] - said["out"]) * self.price[code]
        return found

    def far_too_much(self, troop, day, line):
        week_no = next(k for k, week in enumerate([*self.weeks, day], 1) if week >= day)
        last, then = {}, defaultdict(lambda: (0, None))
        for row in sorted(self.rows["last_season"], key=lambda r: r["week_no"]):
            last[row["troop"]] = (row["packages"], row["participants"])
            if row["week_no"] <= week_no:
                then[row["troop"]] = (row["week_no"], row["packages"])
        last = {who: pair for who, pair in last.items() if pair[1]}
        mine = [one for one in self.stock(troop, day) if one["item"] in self.stocked]
        available, on_hand = (
            sum(one["available"] for one in mine),
            max(0, sum(one["_on_hand_or_expected"] for one in mine)),
        )
        if not last or available <= 0 or not line["registered"]:
            return {}
        whole = (sum(p for p, _n in last.values()), sum(n for _p, n in last.values()))
        packages, people = last.get(troop, whole)
        by_then = then[troop][1] if troop in last else sum(then[who][1] or 0 for who in last)
        explained = packages * line["registered"] // people
        if by_then:
            explained = max(explained, sum(one["_sold_from_stock"] for one in mine) * packages // by_then)
        if 2 * available - 3 * explained < 120 or on_hand < 60:
            return {}
        beyond = min(available - explained, on_hand)
        worth = sum((one["available"] * self.price[one["item"]] for one in mine), NIL)
        return {("ordered_above_last_season", ""): int(worth * 100) * beyond // available * CENT}

    # People

    def people(self, troop, day, line):
        found = {}
        rows = [r for r in self.rows["roster"] if r["troop"] == troop]
        active, registered = self.taking_part(troop, day)
        known = {r["participant"] for r in rows if r["registered_on"] <= day}
        for code in active - known:
            packages = [r for r in self.of("families", troop, day) if r["participant"] == code and r["packages"]]
            orders = [row["goods_amount"] for row, _far in self.orders(troop, day) if row["participant"] == code]
            has = [r["packages"] * self.price[r["item"]] for r in packages] + orders
            found["unregistered_seller", code] = sum(has, NIL) if has else None
        lacking = [r for r in rows if r["participant"] in registered and r["contact_on_file"] is False]
        if lacking and len(lacking) * 10 >= len(registered):
            found["no_contact", ""] = None
        if len([week for week in self.weeks if week < day]) >= 2:
            closed = 0
            for code in registered:
                pages = [
                    r for r in self.rows["pages"] if (r["troop"], r["participant"]) == (troop, code) and r["on"] <= day
                ]
                closed += bool(pages) and not max(pages, key=lambda r: r["on"])["page_open"]
            if closed and closed * 2 >= len(registered):
                found["page_not_open", ""] = None
        found |= {(rule, ""): None for rule in self.pages(troop, day, registered)}
        came = [
            r["date"]
            for r in self.rows["supply"]
            if r["troop"] == troop and r["kind"] in ("opening", "depot") and r["date"] <= day
        ]
        idle = not line["taking_part"] and line["packages_sold"] <= 0 and line["on_hand"] > 0
        if idle and came and (day - min(came)).days >= 14:
            found["nobody_selling", ""] = line["on_hand_value"]
        return found

    def few(self, day):
        """Each troop's lower tail against the others, plainly: scipy's distributions, one troop at a time."""
        counts = {}
        for troop in self.troops:
            active, registered = self.taking_part(troop, day)
            if registered:
                counts[troop] = (len(active & registered), len(registered))
        if len(counts) < 5:
            return {}
        chances = []
        for troop, (some, of) in counts.items():
            rest = [pair for who, pair in counts.items() if who != troop]
            n = sum(size for _x, size in rest)
            p = min(max(sum(x for x, _size in rest) / n, 0.5 / (n + 1)), (n + 0.5) / (n + 1))
            squares = sum(size * (x / size - p) ** 2 for x, size in rest)
            k = len(rest) - 1
            rho = (squares / (p * (1 - p)) - k) / (n - sum(size * size for _x, size in rest) / n - k)
            if rho <= 1e-9:
                chances.append(binom.cdf(some, of, p))
            else:
                weight = 1 / min(rho, 0.99) - 1
                chances.append(betabinom.cdf(some, of, p * weight, (1 - p) * weight))
        called = false_discovery_control(chances) <= 0.05
        return {("few_taking_part", troop, ""): None for troop, out in zip(counts, called, strict=True) if out}

    def averages(self, day):
        values = {}
        for troop in self.troops:
            active = len(self.taking_part(troop, day)[0])
            if active >= 5:
                values[troop] = self.money(troop, day)[3] / active
        if len(values) < 5:
            return {}
        middle = median(values.values())
        mad = median([abs(value - middle) for value in values.values()])
        z = [0.6745 * (value - middle) / mad if mad else 0 for value in values.values()]
        sure = false_discovery_control([2 * norm.sf(abs(one)) for one in z]) <= 0.05
        return {("average_out_of_line", troop, ""): None for troop, one, out in zip(values, z, sure, strict=True)
                if out and abs(one) > 3.5}  # fmt: skip

    def pages(self, troop, day, registered):
        """Whether pages wait for a caregiver, or were open for long and nobody was told."""
        found = set()
        for code in registered:
            rows = [r for r in self.rows["pages"] if (r["troop"], r["participant"]) == (troop, code) and r["on"] <= day]
            rows.sort(key=lambda r: r["on"])
            since = None
            for row in rows:
                since = (since or row["on"]) if row["waits_for_caregiver"] else None
            if since and (day - since).days >= 12:
                found.add("page_waits")
            opened = [row["on"] for row in rows if row["page_open"]]
            if opened and rows[-1]["page_open"] and not rows[-1]["people_told"] and (day - opened[0]).days >= 12:
                found.add("nothing_told")
        return found

    # Online orders

    def online(self, troop, day, _line):
        found, items = {}, defaultdict(list)
        for row in self.rows["online_orders"]:
            if row["troop"] == troop:
                items[row["order"], row["item"]].append(row)
        waiting, posted = defaultdict(list), defaultdict(list)
        for rows in items.values():
            rank = RANKS[rows[0]["mode"]]
            row = on_day(rows, rank, day)
            if row is None:
                row = min(rows, key=lambda r: (r["state_on"], rank.index(r["state"])))
                if row["placed_on"] > day:
                    continue
                row = {**row, "state": rank[0]}
            if row["state"] == "waiting":
                waiting[row["order"]].append(row)
            if row["mode"] == "by_post" and row["state"] in ("placed", "sent"):
                posted[row["order"]].append(row)
        for order, rows in waiting.items():
            days = (day - rows[0]["placed_on"]).days
            if 2 <= days <= 19:
                found["order_waiting" if days <= 5 else "order_lapsed", order] = money(rows, "goods_amount")
        for order, rows in posted.items():
            if sum(r["packages"] for r in rows) < 4 and (day - rows[0]["placed_on"]).days <= 14:
                found["posted_under_minimum", order] = money(rows, "goods_amount")
            if {r["state"] for r in rows} & {"placed"} and 9 <= (day - rows[0]["placed_on"]).days <= 27:
                found["posted_not_sent", order] = money([r for r in rows if r["state"] == "placed"], "goods_amount")
        return found


def median(values):
    """The middle of values, or halfway between the two."""
    ranked = sorted(values)
    half = len(ranked) // 2
    return ranked[half] if len(ranked) % 2 else (ranked[half - 1] + ranked[half]) / 2
