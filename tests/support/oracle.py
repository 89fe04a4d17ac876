"""The figures once more, in plain Python with loops and exact numbers, written from the definitions alone.

Comes in: a season (season.toml as parsed) and the rows that hold, by table. Goes out: standing, items and families of
a day as text, to be held against the tool's own. It shares no line with pipelines/.

Fractions and loops throughout. A new measure in these tables is added here too, from its definition, before its SQL is
read.
"""

from collections import defaultdict
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cache
from math import floor, sqrt

from plain_progress import Progress

NIL = Decimal("0.00")
Z = 1.959963984540054
RANKS = {
    "by_post": ["placed", "sent", "withdrawn"],
    "donated": ["placed", "withdrawn"],
    "by_hand": ["waiting", "taken_on", "done", "refused", "withdrawn", "given_instead"],
}
REMOTE = {("by_post", "placed"), ("by_post", "sent"), ("donated", "placed"), ("by_hand", "given_instead")}
BY_HAND = {("by_hand", "taken_on"), ("by_hand", "done")}
SUBMITTED = ("cover", "stock", "families", "stalls", "banked", "moves", "goals")


def to_cents(exact):
    """An exact number to two decimals, half away from zero."""
    hundredths = floor(abs(Fraction(exact)) * 100 + Fraction(1, 2))
    return Decimal(hundredths if exact >= 0 else -hundredths) / 100 + NIL


def six(value):
    """A share or average as shown: six decimals, half away from zero."""
    if value is None:
        return ""
    exact = Fraction(repr(value)) if isinstance(value, float) else Fraction(value)
    millionths = floor(abs(exact) * 1_000_000 + Fraction(1, 2))
    sign = "-" if exact < 0 and millionths else ""
    return f"{sign}{millionths // 1_000_000}.{millionths % 1_000_000:06d}"


def ratio(above, below):
    """A quotient, or no value where the divisor is not positive."""
    return Fraction(above) / Fraction(below) if below > 0 else None


def wilson(some, of):
    """The 95 % Wilson score interval in double precision."""
    if not of:
        return None, None
    p = some / of
    middle = (p + Z * Z / (2 * of)) / (1 + Z * Z / of)
    half = Z / (1 + Z * Z / of) * sqrt(p * (1 - p) / of + Z * Z / (4 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


def on_day(rows, rank, day):
    """Of an order's item or a remittance the row whose state holds on a day; None before the first."""
    known = [row for row in rows if row["state_on"] <= day]
    return max(known, key=lambda row: (row["state_on"], rank.index(row["state"]))) if known else None


class Oracle:
    """One season and what holds in it."""

    def __init__(self, season, tables):
        self.season = season
        self.items = {item["code"]: item for item in season["items"]}
        self.price = {code: Decimal(item["price"]) for code, item in self.items.items()}
        self.stocked = {code for code, item in self.items.items() if item.get("stocked", True)}
        names = (*SUBMITTED, "troops", "roster", "supply", "online_orders", "collections", "remittances", "adjustments",
                 "promised", "awards", "awards_before")  # fmt: skip
        self.rows = {name: tables.get(name, []) for name in names}
        self.troops = sorted({row["troop"] for name in ("troops", "roster") for row in self.rows[name]})
        self.of_troop = {row["troop"]: row for row in self.rows["troops"]}
        self.reported = {(row["troop"], row["week_ending"]) for row in self.rows["stock"]}
        # A giver that told of moves has spoken, also where its stock is missing: else the move would count twice.
        self.spoke = set(self.reported)
        self.spoke.update((row["troop"], row["week_ending"]) for row in self.rows["moves"] if row["direction"] == "out")
        self.workers = [
            (told.split(":")[0], self.home(told.split(":")[0], row), row["week_ending"])
            for row in self.rows["stalls"]
            for told in row["participants"] or ()
        ]
        self.money = cache(self._money)
        self.credits = cache(self._credits)
        self.orders = cache(self._orders)
        self.household = {(row["troop"], row["participant"]): row.get("household") for row in self.rows["roster"]}
        self.shown_for_it = Progress(self)

    def home(self, code, stall):
        """Whose a worker of a stall is: who stands on another troop's roster alone is that troop's."""
        listed = [row for row in self.rows["roster"] if row["participant"] == code]
        if not listed or stall["troop"] in {row["troop"] for row in listed}:
            return stall["troop"]
        day = stall["date"] or stall["week_ending"]
        there = [row for row in listed if row["registered_on"] <= day and (not row["left_on"] or row["left_on"] > day)]
        return max(there or listed, key=lambda row: (row["registered_on"], row["troop"]))["troop"]

    def of(self, table, troop, day):
        """A troop's rows of one sheet, of the weeks that ended by a day."""
        return [row for row in self.rows[table] if row["troop"] == troop and row["week_ending"] <= day]

    # Packages

    def moved(self, troop, day):
        """Packages of each item moved in and out, on the giver's word, else the receiver's."""
        into, out = defaultdict(int), defaultdict(int)
        for row in self.rows["moves"]:
            if row["week_ending"] > day:
                continue
            giver, taker = row["troop"], row["other_troop"]
            if row["direction"] == "in":
                giver, taker = taker, giver
                if giver != "outside" and (giver, row["week_ending"]) in self.spoke:
                    continue
            if taker == troop:
                into[row["item"]] += row["packages"]
            if giver == troop:
                out[row["item"]] += row["packages"]
        return into, out

    def _orders(self, troop, day):
        """The rows of online orders' items that have an effect on a day: (row, is it remote)."""
        found = []
        items = defaultdict(list)
        for row in self.rows["online_orders"]:
            items[row["order"], row["item"]].append(row)
        for rows in items.values():
            rank = RANKS[rows[0]["mode"]]
            row = on_day(rows, rank, day)
            if row is None:
                row = min(rows, key=lambda one: (one["state_on"], rank.index(one["state"])))
                if row["placed_on"] > day:
                    continue
                row = {**row, "state": rank[0]}
            effect = (row["mode"], row["state"])
            if row["troop"] == troop and (effect in REMOTE or effect in BY_HAND):
                found.append((row, effect in REMOTE))
        return found

    def stock(self, troop, day):
        """For each item of the season its packages, as items.csv lists them."""
        into, out = self.moved(troop, day)
        supply = defaultdict(int)
        for row in self.rows["supply"]:
            if row["troop"] == troop and row["date"] <= day:
                supply[row["item"], row["kind"]] += row["packages"]
        handed, stall = defaultdict(int), defaultdict(int)
        weekly = defaultdict(int)
        for name, sums in (("families", handed), ("stalls", stall)):
            for row in self.of(name, troop, day):
                if row["item"]:
                    sums[row["item"]] += row["packages"] or 0
                    weekly[row["item"], row["week_ending"]] += row["packages"] or 0
        damage, count = defaultdict(int), {}
        for row in self.of("stock", troop, day):
            damage[row["item"]] += row["damaged"] or 0
            if row["week_ending"] == day and row["on_hand"] is not None:
                count[row["item"]] = row["on_hand"]
        online = defaultdict(int)
        for row, is_remote in self.orders(troop, day):
            online[row["item"], is_remote, "packages"] += row["packages"]
            online[row["item"], is_remote, "goods_amount"] += row["goods_amount"]
        last = sorted(week for who, week in self.reported if who == troop and week <= day)[-3:]
        lines = []
        for code in self.items:
            supplied = supply[code, "opening"] + supply[code, "depot"] - supply[code, "returned"]
            sold = handed[code] + stall[code]
            available = supplied + into[code] - out[code] if code in self.stocked else sold
            damaged = damage[code] - supply[code, "exchange"]
            expected = available - damaged - sold
            counted = count.get(code)
            on_hand = expected if counted is None else counted
            recent = sum(weekly[code, week] for week in last)
            lines.append({
                "troop": troop, "item": code, "supplied": supplied, "moved_in": into[code], "moved_out": out[code],
                "available": available, "damaged": damaged, "handed_out": handed[code], "stall": stall[code],
                "remote": online[code, True, "packages"],
                "expected_on_hand": expected, "on_hand": counted,
                "missing": None if counted is None else expected - counted,
                "sell_through": ratio(sold, available) if code in self.stocked else None,
                "weeks_of_supply": ratio(on_hand * len(last), recent) if code in self.stocked else None,
                "_sold_from_stock": sold, "_on_hand_or_expected": on_hand, "_recent_sold": recent,
                "_packages_sold": sold + online[code, True, "packages"],
                "_stocked_sold": sold if code in self.stocked else 0,
                "_stocked_available": available if code in self.stocked else 0,
                "_remote_value": NIL + online[code, True, "goods_amount"], "_by_hand": online[code, False, "packages"],
                "_by_hand_value": NIL + online[code, False, "goods_amount"],
            })  # fmt: skip
        return lines

    # Families

    def families(self, troop, day):
        """Every participant with a row in Families, a counted order or an adjustment, as families.csv lists them."""
        weeks = defaultdict(lambda: defaultdict(lambda: NIL))
        sums = defaultdict(lambda: defaultdict(lambda: NIL))
        for row in self.of("families", troop, day):
            who, packages = sums[row["participant"]], row["packages"] or 0
            who["taken" if packages > 0 else "back"] += abs(packages)
            who["cash"] += row["cash"] or 0
            who["card"] += row["card"] or 0
            if row["item"]:
                weeks[row["participant"]][row["week_ending"]] += packages * self.price[row["item"]]
        for row in self.of("banked", troop, day):
            if row.get("kind") == "returned_cheque" and row.get("participant"):
                sums[row["participant"]]["cash"] += row["amount"]
        for row, is_remote in self.orders(troop, day):
            who = sums[row["participant"] or "troop"]
            who["remote" if is_remote else "online"] += row["packages"] if is_remote else row["goods_amount"]
            who["by hand"] += 0 if is_remote else row["packages"]
        for row in self.rows["adjustments"]:
            if row["troop"] == troop and row["date"] <= day and row["participant"]:
                sums[row["participant"]]["settled"] += row["amount"]
        return [self._family(troop, code, sums[code], weeks[code], day) for code in sorted(sums)]

    def _family(self, troop, code, who, weeks, day):
        charged = sum(weeks.values(), NIL)
        paid = who["cash"] + who["card"] + who["online"] + who["settled"]
        left = paid - sum((net for net in weeks.values() if net < 0), NIL)
        ages = [NIL] * 4
        if left < 0:
            ages[0] -= left
        for week in sorted(weeks):
            if weeks[week] > 0:
                taken = min(max(left, NIL), weeks[week])
                left -= taken
                ages[age((day - week).days)] += weeks[week] - taken
        owes = charged - paid
        over = max(NIL, who["cash"] + who["card"] + who["settled"] - charged)
        return {
            "troop": troop, "participant": code, "taken": int(who["taken"]), "brought_back": int(who["back"]),
            "charged": charged, "paid_cash": who["cash"], "paid_card": who["card"], "paid_online": who["online"],
            "settled": who["settled"], "owes": owes, "owes_0_7": ages[0], "owes_8_14": ages[1],
            "owes_15_30": ages[2], "owes_over_30": ages[3], "overpaid": over,
            "paid_ahead": max(NIL, max(NIL, -owes) - over), "remote": int(who["remote"]),
            "packages": int(who["taken"] - who["back"] + who["remote"]), "_paid": paid, "_by_hand": int(who["by hand"]),
            "promised": sum(self.shown_for_it.promised(troop, code, day).values()),
            "stall_credit": self.shown_for_it.credit(troop, code, day),
            "progress": self.shown_for_it.progress(troop, code, day), "household": self.household.get((troop, code)),
        }  # fmt: skip

    # Taking part

    def taking_part(self, troop, day):
        """The codes that take part, and those that are registered."""
        taken = defaultdict(int)
        active = {row["participant"] for row, _far in self.orders(troop, day)}
        for row in self.of("families", troop, day):
            taken[row["participant"]] += row["packages"] or 0
        active.update(code for code, home, week in self.workers if home == troop and week <= day)
        active.update(code for code, packages in taken.items() if packages > 0)
        registered = {row["participant"] for row in self.rows["roster"] if row["troop"] == troop
                      and row["registered_on"] <= day and not (row["left_on"] and row["left_on"] <= day)}  # fmt: skip
        return active - {"troop", "", None}, registered

    # Money between a troop and the organisation

    def _money(self, troop, day):
        """charged, the proceeds' rate, proceeds, packages sold."""
        stock = self.stock(troop, day)
        remote = [row for row, is_remote in self.orders(troop, day) if is_remote]
        available = sum(line["available"] for line in stock)
        away = sum(row["packages"] for row in remote)
        sold = sum(line["_sold_from_stock"] for line in stock) + away
        charged = sum((line["available"] * self.price[line["item"]] for line in stock), NIL)
        charged += sum((row["goods_amount"] for row in remote), NIL)
        stated = self.of_troop.get(troop, {})
        active, registered = self.taking_part(troop, day)
        divisor = stated.get("divisor")
        if divisor is None:
            divisor = len(active if self.season["proceeds"].get("per", "taking_part") == "taking_part" else registered)
        tiers = self.season["proceeds"]["tiers"]
        tier = tiers[0]
        if divisor:
            for one in tiers:
                if Fraction(one["from_average"]) <= Fraction(sold, divisor):
                    tier = one
        rate = Decimal(tier["rate"]) + (stated.get("extra_rate") or 0)
        return charged, rate, to_cents(Fraction(rate) * (available + away)), sold

    def remittances(self, troop, day):
        """The row of each remittance whose state holds on a day."""
        references = defaultdict(list)
        for row in self.rows["remittances"]:
            references[row["reference"]].append(row)
        held = [on_day(rows, ["pending", "cleared", "returned"], day) for rows in references.values()]
        return [row for row in held if row and row["troop"] == troop]

    def _credits(self, troop, day):
        online = sum((row["goods_amount"] for row, _far in self.orders(troop, day)), NIL)
        remitted = sum((r["amount"] for r in self.remittances(troop, day) if r["state"] == "cleared"), NIL)
        return online + remitted + self.adjusted(troop, day)

    def adjusted(self, troop, day, *, named=False):
        """Adjustments up to a day; `named`: those that settle a family's debt too."""
        return sum((row["amount"] for row in self.rows["adjustments"] if row["troop"] == troop and row["date"] <= day
                    and (row["participant"] or not named)), NIL)  # fmt: skip

    def dues(self, troop, day):
        """The due dates known on a day: (on, due by then in all, what was announced or None, share or None)."""
        known = {}
        for due in self.season.get("dues", []):
            known[due["on"]] = (None, due)
        heard = [row for row in self.rows["collections"] if row["troop"] == troop and row["announced_on"] <= day]
        for row in sorted(heard, key=lambda one: one["announced_on"]):
            known[row["on"]] = (row, None)
        return sorted(known.items())

    def due_by(self, troop, row, due):
        """What is due in all by a due date."""
        if row:
            return max(NIL, self.credits(troop, row["announced_on"])) + row["amount"]
        charged, _rate, proceeds, _sold = self.money(troop, due.get("cutoff", due["on"]))
        return max(NIL, to_cents(Fraction(due["share"]) * Fraction(charged - proceeds)))

    def reached(self, troop, day):
        """Each due date reached by a day, with what is due in all by then."""
        found = []
        for on, (row, due) in self.dues(troop, day):
            is_apart = row and row.get("arrears") == "apart" and found
            if on <= day:
                found.append((on, found[-1][1] + row["amount"] if is_apart else self.due_by(troop, row, due)))
        return found

    def owing(self, troop, day):
        """being_collected, the four ages of what is past due, next_due_on, next_due."""
        credits, reached = self.credits(troop, day), self.reached(troop, day)
        collected, ages, before = NIL, [NIL] * 4, NIL
        for k, (on, _by) in enumerate(reached):
            least = min(by for _on, by in reached[k:])
            unpaid = min(least - before, max(NIL, least - max(NIL, credits)))
            before = least
            came_back = any(r["state"] == "returned" and r["date"] >= on for r in self.remittances(troop, day))
            if day <= on + timedelta(self.season["season"].get("settle_days", 5)) and not came_back:
                collected += unpaid
            else:
                ages[age((day - on).days)] += unpaid
        ahead = [(on, how) for on, how in self.dues(troop, day) if on > day]
        if not ahead:
            return collected, ages, None, None
        on, (row, due) = ahead[0]
        charged, _rate, proceeds, _sold = self.money(troop, day)
        if row:
            return collected, ages, on, row["amount"]
        open_part = Fraction(due["share"]) * Fraction(charged - proceeds) - Fraction(credits) - Fraction(collected)
        return collected, ages, on, max(NIL, to_cents(open_part))

    def balance(self, troop, day):
        """The latest balance that somebody read for one of the seven days up to a day, or None."""
        read = [row for row in self.of("cover", troop, day) if row["bank_balance"] is not None and row["balance_on"]
                and day - timedelta(6) <= row["balance_on"] <= day]  # fmt: skip
        return max(read, key=lambda row: (row["balance_on"], row["week_ending"]))["bank_balance"] if read else None

    def standing(self, troop, day):
        """A troop's line of standing.csv."""
        stock, families = self.stock(troop, day), self.families(troop, day)
        charged, rate, proceeds, sold = self.money(troop, day)
        active, registered = self.taking_part(troop, day)
        collected, ages, next_on, next_due = self.owing(troop, day)
        announced = next((row for on, (row, _due) in self.dues(troop, day) if on > day), None)
        is_unsaid = announced and not announced.get("arrears") and sum(ages) > 0

        def value(column):
            return sum((line[column] * self.price[line["item"]] for line in stock if line[column] is not None), NIL)

        remote_value = sum((row["goods_amount"] for row, is_remote in self.orders(troop, day) if is_remote), NIL)
        stalls, account = self.of("stalls", troop, day), self.of("banked", troop, day)
        cash = sum((row["cash"] or NIL for row in stalls), NIL)
        card = sum((row["card"] or NIL for row in stalls), NIL)
        gifts = sum((row.get("gift") or NIL for row in stalls), NIL)
        came_back = [row for row in account if row.get("kind") == "returned_cheque"]
        takings = cash + card + sum((row["amount"] for row in came_back if not row.get("participant")), NIL)
        cash += gifts + sum((row["cash"] or NIL for row in self.of("families", troop, day)), NIL)
        card += sum((one["paid_card"] for one in families), NIL)
        banked = sum((row["amount"] for row in account if (row.get("kind") or "deposit") == "deposit"), NIL)
        fees = -sum((row["amount"] for row in account if row.get("kind") == "fee"), NIL)
        change = -sum((row["amount"] for row in account if row.get("kind") == "float"), NIL)
        cheques = -sum((row["amount"] for row in came_back), NIL)
        remitted = sum((r["amount"] for r in self.remittances(troop, day) if r["state"] == "cleared"), NIL)
        in_bank = sum((row["amount"] for row in account), NIL) + card - remitted
        read = self.balance(troop, day)
        bank = in_bank if read is None else read
        credits = self.credits(troop, day)
        mine = [line for line in stock if line["item"] in self.stocked]
        paid = sum((max(NIL, min(one["_paid"], one["charged"])) for one in families), NIL)
        stall_value = value("stall")
        by_hand = [row for row, is_remote in self.orders(troop, day) if not is_remote]
        posted = [row for row, is_remote in self.orders(troop, day) if is_remote and row["mode"] == "by_post"]
        low, high = wilson(len(active & registered), len(registered))
        return {
            "troop": troop, "week_ending": day, "submitted": (troop, day) in self.reported,
            "available": sum(line["available"] for line in stock),
            "sold_from_stock": sum(line["_sold_from_stock"] for line in stock),
            "remote": sum(line["remote"] for line in stock), "packages_sold": sold,
            "sell_through": six(ratio(sum(line["_sold_from_stock"] for line in mine),
                                      sum(line["available"] for line in mine))),
            "paid_through": six(ratio(paid + takings, value("available"))),
            "on_hand": sum(line["_on_hand_or_expected"] for line in stock),
            "missing": sum(line["missing"] or 0 for line in stock),
            "available_value": value("available"), "remote_value": remote_value,
            "on_hand_value": value("_on_hand_or_expected"),
            "damaged_value": value("damaged"), "missing_value": value("missing"),
            "families_owe": sum((one["owes"] for one in families), NIL), "stall_short": stall_value - takings,
            "not_banked": cash - banked, "in_bank": in_bank, "remitted": remitted,
            "paid_online": credits - remitted - self.adjusted(troop, day),
            "settled_otherwise": self.adjusted(troop, day, named=True), "charged": charged,
            "proceeds_rate": f"{rate:.4f}", "proceeds": proceeds, "adjustments": self.adjusted(troop, day),
            "credits": credits, "owed": charged - proceeds - credits, "being_collected": collected,
            "past_due": sum(ages, NIL), "past_due_0_7": ages[0], "past_due_8_14": ages[1], "past_due_15_30": ages[2],
            "past_due_over_30": ages[3], "next_due_on": next_on, "next_due": next_due, "bank": bank,
            "cover": bank - collected - (next_due or NIL), "registered": len(registered), "taking_part": len(active),
            "share": six(ratio(len(active & registered), len(registered))), "share_low": six(low),
            "share_high": six(high), "average_per_registered": six(ratio(sold, len(registered))),
            "average_per_active": six(ratio(sold, len(active))),
            "gifts": gifts, "bank_fees": fees, "float_out": change,
            "_lacking": max(NIL, collected + (next_due or NIL) - bank),
            "cover_if_apart": bank - collected - next_due - sum(ages, NIL) if is_unsaid else None,
            "_cheques_back": cheques,
            "_stocked_sold": sum(line["_stocked_sold"] for line in stock),
            "_stocked_available": sum(line["_stocked_available"] for line in stock),
            "_paid_of_charge": paid, "_stall_takings": takings, "_stall_sold_value": stall_value, "_cash": cash,
            "_card": card, "_banked": banked, "_by_hand": sum(row["packages"] for row in by_hand),
            "_by_hand_value": sum((row["goods_amount"] for row in by_hand), NIL),
            "_posted_orders": len({row["order"] for row in posted}),
            "_posted_packages": sum(row["packages"] for row in posted),
            "_registered_taking_part": len(active & registered),
            "_packages_charged": sum(line["available"] + line["remote"] for line in stock),
            "_given_back": sum(row["packages"] for row in self.rows["supply"] if row["kind"] == "returned"
                               and row["troop"] == troop and row["date"] <= day),
        }  # fmt: skip

    # As text

    def table(self, name, day):
        """standing, items or families of a day: lists of text, in the order that the tables are written."""
        return [{key: text for key, text in line.items() if key[0] != "_"} for line in self.lines(name, day)]

    def everything(self, name, day):
        """The same with all that they are made of, which no table lists."""
        return [{key.removeprefix("_"): text for key, text in line.items()} for line in self.lines(name, day)]

    def lines(self, name, day):
        """Every line as text; what no table lists has a name that begins with "_"."""
        if name == "standing":
            lines = [self.standing(troop, day) for troop in self.troops]
        else:
            lines_of = self.stock if name == "items" else self.families
            lines = [line for troop in self.troops for line in lines_of(troop, day)]
            lines.sort(key=lambda line: (line["troop"], line.get("item", line.get("participant"))))
        return [{key: shown(key, value) for key, value in line.items()} for line in lines]


def age(days):
    """The place of an age among 0-7, 8-14, 15-30 and over 30 days."""
    return 0 if days <= 7 else 1 if days <= 14 else 2 if days <= 30 else 3


def shown(key, value):
    """One value as text."""
    if key in ("sell_through", "weeks_of_supply") and not isinstance(value, str):
        return six(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value:.2f}"
    return "" if value is None else value.isoformat() if isinstance(value, date) else str(value)
