"""Random seasons: a season.toml and the rows of every table, with all that volunteers and organisations do in them.

Comes in: a seed. Goes out: a Made season, the same for the same seed. Every row is one that the contract accepts.
"""

import random
import tomllib
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from decimal import Decimal

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
SHEETS = ("cover", "stock", "families", "stalls", "banked", "moves", "goals")
STATES = {
    "by_post": ("placed", "sent", "withdrawn"),
    "donated": ("placed", "withdrawn"),
    "by_hand": ("waiting", "taken_on", "done", "refused", "withdrawn", "given_instead"),
}
PAID = (  # what becomes of a remittance
    *("cleared", "pending cleared", "pending", "returned", "returned", "pending returned"),
    *("cleared returned", "pending cleared returned"),
)
Row = dict
ALTERED = {  # what an earlier file of a feed said of the same key
    "supply": lambda row: {"packages": row["packages"] + 7, "date": row["date"] + timedelta(2)},
    "online_orders": lambda row: {"packages": row["packages"] + 1, "participant": None},
    "collections": lambda row: {"amount": row["amount"] + 9},
    "remittances": lambda row: {"amount": row["amount"] + 9, "date": row["date"] - timedelta(1)},
    "adjustments": lambda row: {"amount": -row["amount"], "participant": None},
    "roster": lambda row: {"registered_on": row["registered_on"] + timedelta(40)},
    "troops": lambda row: {"extra_rate": Decimal("0.1"), "divisor": 2},
}
TROOPS = ("0206", "0417", "1282", "2754", "3912", "7850", "0031", "6018")
NOBODY = "9301"  # a troop of `troops` with nothing at all
SHARED = {  # by what rows of two versions of a week are known to tell of the same thing
    "stock": ("item",), "families": ("participant", "item"), "stalls": ("date", "start", "place", "item"),
    "goals": ("participant",), "banked": ("date", "slip"), "moves": ("date", "item", "direction", "other_troop"),
    "promised": ("participant",), "awards": ("participant", "award"),
}  # fmt: skip


@dataclass
class Made:
    """One season: its text, its rules as parsed, the rows that hold, and earlier versions of some."""

    seed: int
    text: str
    rules: dict
    troops: list[str]
    weeks: list[date]
    tables: dict[str, list[Row]] = field(default_factory=dict)
    drafts: dict[str, list[Row]] = field(default_factory=dict)

    @property
    def sheets(self) -> dict[str, list[Row]]:
        return {name: self.tables[name] for name in SHEETS}

    @property
    def feeds(self) -> dict[str, list[Row]]:
        return {name: rows for name, rows in self.tables.items() if name not in SHEETS}

    def days(self, count: int = 4) -> list[date]:
        """Some days of the season: ends of weeks, days between, and one after all of it."""
        dice = random.Random(self.seed + 1)  # noqa: S311 - dice for a test
        inside = [self.weeks[0] + timedelta(n) for n in range(-4, (self.weeks[-1] - self.weeks[0]).days + 9)]
        return sorted({*dice.sample(inside, count - 2), dice.choice(self.weeks), self.weeks[-1] + timedelta(45)})


def make(seed: int, troops: int | None = None, weeks: int | None = None) -> Made:
    """The season of a seed."""
    return _Maker(seed, troops, weeks).made()


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str | Decimal) else str(value)


def _section(title: str, keys: dict) -> str:
    return "\n".join([title, *(f"{key} = {_toml(value)}" for key, value in keys.items() if value is not None), ""])


class _Maker:
    """Dice, and the season as it grows."""

    def __init__(self, seed: int, troops: int | None, weeks: int | None) -> None:
        self.dice = dice = random.Random(seed)  # noqa: S311 - dice for a test
        self.more = random.Random(-1 - seed)  # noqa: S311 - of what only a part of the seasons knows
        self.knows_kinds = self.more.random() < 0.5  # of rows of the bank, and gifts
        ends_on = dice.choice(DAYS)
        self.first_day = date(2027, 2, 1) + timedelta(dice.randrange(14))
        first = self.first_day + timedelta((DAYS.index(ends_on) - self.first_day.weekday()) % 7)
        count = weeks or dice.randint(3, 6)
        last_day = first + timedelta(7 * count - 7) - timedelta(dice.randrange(3))
        self.codes = dice.sample(["GLA", "DAH", "LIL", "MDW", "HRB", "S1"], dice.randint(2, 4))
        self.unstocked = ["GIV"] if dice.random() < 0.7 else []
        self.price = {c: Decimal(dice.choice(["6.00", "6.50", "5.25", "7.25", "0.99", "12.00"])) for c in self.codes}
        self.price |= {c: Decimal("6.00") for c in self.unstocked}
        text = self._season_text(ends_on, last_day)
        extra = dice.choice([0, 0, 2])  # weeks after the season's last
        ends = [first + timedelta(7 * n) for n in range(count + extra)]
        names = dice.sample(TROOPS, troops or dice.randint(2, 7))
        self.season = Made(seed, text, tomllib.loads(text, parse_float=Decimal), names, ends)
        self.people = {troop: [f"{troop}-{n:02}" for n in range(1, dice.randint(3, 6))] for troop in names}
        self.tables: dict[str, list[Row]] = {name: [] for name in SHEETS}
        for name in ("troops", "roster", "supply", "online_orders", "collections", "remittances", "adjustments",
                     "organisation_balance", "pages", "last_season"):  # fmt: skip
            self.tables[name] = []

    def made(self) -> Made:
        self._feeds()
        for troop in self.season.troops:
            for week in self.season.weeks:
                self._week(troop, week, self.tables)
        self._moves()
        self._households()
        made = self.season
        made.tables = self.tables
        made.drafts = {name: [] for name in SHEETS}
        for troop in made.troops:
            for week in made.weeks:
                if self.chance(0.15):
                    self._draft(troop, week)
        for name, alter in ALTERED.items():
            first = self.dice.sample(self.tables[name], len(self.tables[name]) // 5)
            made.drafts[name] = [row | alter(row) for row in first]
        return made

    # Small dice

    def chance(self, share: float) -> bool:
        return self.dice.random() < share

    def day(self, before: int = 5, after: int = 12) -> date:
        """A day of the season or a little round it."""
        span = (self.season.weeks[-1] - self.first_day).days
        return self.first_day + timedelta(self.dice.randint(-before, span + after))

    def money(self, most: int = 60) -> Decimal:
        return Decimal(self.dice.choice([0, self.dice.randrange(most * 100), self.dice.randrange(most) * 100])) / 100

    def noted(self, most: int = 60) -> tuple[Decimal, str | None]:
        """An amount and its note: a refund has one."""
        if self.chance(0.08):
            return -self.money(25), "a refund, a cheque that came back"
        return self.money(most), self.dice.choice([None, None, "paid at the meeting"])

    def _season_text(self, ends_on: str, last_day: date) -> str:
        dice = self.dice
        parts = [_section("[season]", {
            "title": "A random season", "area": "Dice area", "first_day": self.first_day, "last_day": last_day,
            "week_ends_on": ends_on, "currency": "USD", "settle_days": dice.choice([None, 0, 5, 7])})]  # fmt: skip
        for code in [*self.codes, *self.unstocked]:
            stocked = False if code in self.unstocked else dice.choice([None, True])
            item = {"code": code, "title": f"Bulbs {code}", "price": self.price[code], "stocked": stocked}
            parts.append(_section("[[items]]", item))
        parts.append(_section("[proceeds]", {"per": dice.choice([None, "taking_part", "registered"])}))
        starts = [Decimal(0), *sorted(dice.sample([Decimal(n) / 2 for n in range(4, 60)], dice.randint(0, 2)))]
        for number, start in enumerate(starts):
            rate = Decimal(dice.randrange(5000, 7000) + 1500 * number) / 10_000
            parts.append(_section("[[proceeds.tiers]]", {"from_average": start, "rate": rate}))
        on = self.first_day + timedelta(dice.randint(-3, 20))
        for _ in range(dice.choice([0, 1, 2, 3, 3, 4])):
            share = Decimal(dice.choice(["0.35", "0.625", "0.8", "1", "0.33333333", "0", "0.125"]))
            cutoff = on - timedelta(dice.randrange(9)) if dice.random() < 0.5 else None
            parts.append(_section("[[dues]]", {"on": on, "share": share, "cutoff": cutoff}))
            on += timedelta(dice.randint(1, 14))
        parts.append(_section("[online]", {"ship_minimum": 4, "answer_within_days": 5}))
        return "\n".join(parts)

    # What the organisation hands over

    def _feeds(self) -> None:
        dice, tables = self.dice, self.tables
        for troop in self.season.troops:
            if troop != self.season.troops[0] or self.chance(0.7):  # one may be on the roster alone
                tables["troops"].append({
                    "troop": troop, "level": dice.choice(["younger", "older"]), "leader": f"Leader {troop}",
                    "email": None, "phone": None, "opened_on": None, "closed_on": None,
                    "extra_rate": dice.choice([None, None, Decimal("0.05"), Decimal("-0.0125")]),
                    "divisor": dice.choice([None, None, None, 0, 3, 11])})  # fmt: skip
            self._roster(troop)
            self._supply(troop)
            for number in range(dice.randrange(9)):
                self._order(troop, f"W{troop}{number:02}")
            self._money_feeds(troop)
        tables["troops"].append(dict.fromkeys(tables["troops"][0] if tables["troops"] else ["troop"], None)
                                | {"troop": NOBODY, "level": "older"})  # fmt: skip
        if len(self.season.troops) > 1 and self.chance(0.5):  # somebody changes troops
            one, other = self.season.troops[:2]
            mover = self.people[one][0]
            row = next(r for r in tables["roster"] if r["participant"] == mover)
            row["registered_on"], row["left_on"] = self.first_day - timedelta(30), self.day(0, 0)
            tables["roster"].append({**row, "troop": other, "registered_on": row["left_on"], "left_on": None})
            self.people[other].append(mover)

    def _roster(self, troop: str) -> None:
        for code in self.people[troop]:
            since = self.first_day - timedelta(self.dice.randrange(300)) if self.chance(0.8) else self.day()
            left = max(since, self.day()) if self.chance(0.12) else None
            self.tables["roster"].append({"troop": troop, "participant": code, "registered_on": since, "left_on": left,
                                          "contact_on_file": self.dice.choice([True, False, None])})  # fmt: skip
            if self.chance(0.3):
                self.tables["pages"].append({
                    "troop": troop, "participant": code, "on": self.day(), "page_open": self.chance(0.5),
                    "own_picture": self.dice.choice([None, "no", "still", "film"]),
                    "people_told": self.dice.randrange(30),
                    "waits_for_caregiver": not self.dice.randrange(9)})  # fmt: skip
        self.people[troop].append(f"{troop}-99")  # sells without being registered

    def _households(self) -> None:
        """Children of one household, with dice of their own; in some one child pays what the other owes."""
        dice = random.Random(-2 - self.season.seed)  # noqa: S311 - dice for a test
        if dice.random() < 0.5:
            return
        for row in self.tables["roster"]:
            row["household"] = dice.choice([None, f"H1-{row['troop']}", f"H2-{row['troop']}"])
        for troop in self.season.troops:
            child, other = self.people[troop][0], f"{troop}-77"
            taken = [row for row in self.tables["families"] if (row["troop"], row["participant"]) == (troop, child)]
            if dice.random() < 0.6 and taken:
                mine = next(
                    row for row in self.tables["roster"] if row["troop"] == troop and row["participant"] == child
                )
                mine["household"] = f"H3-{troop}"
                self.tables["roster"].append({**mine, "participant": other, "left_on": None})
                for week in sorted({row["week_ending"] for row in taken}):
                    rows = [row for row in taken if row["week_ending"] == week]
                    worth = sum(self.price[row["item"]] * row["packages"] for row in rows if row["item"])
                    paid = sum((row["cash"] or 0) + (row["card"] or 0) for row in rows)
                    self.tables["families"].append(rows[0] | {
                        "participant": other, "item": None, "packages": 0, "cash": worth - paid, "card": Decimal(0),
                        "note": "for the other child"})  # fmt: skip

    def _supply(self, troop: str) -> None:
        """Opening orders, depot trips, packages taken back and exchanged; some receipts name another day each item."""
        for code in self.codes:
            for kind, most in (("opening", 90), ("depot", 40), ("returned", 15), ("exchange", 4)):
                if self.chance(0.75 if kind == "opening" else 0.35):
                    on = self.first_day - timedelta(2) if kind == "opening" else self.day()
                    number = f"{kind[:2].upper()}-{troop}" + (f"-{code}" if self.chance(0.5) else "")
                    self.tables["supply"].append({"document": number, "troop": troop, "item": code, "date": on,
                                                  "packages": self.dice.randint(0, most), "kind": kind})  # fmt: skip

    def _order(self, troop: str, number: str) -> None:
        """One online order of one or two items: a history of states, some on one day, some before the first known."""
        dice, mode = self.dice, self.dice.choice(tuple(STATES))
        placed = self.day()
        who = dice.choice([None, "troop", *self.people[troop]])
        history = [] if self.chance(0.3) else [(STATES[mode][0], placed)]
        on = placed
        for state in dice.sample(STATES[mode], dice.randint(1, len(STATES[mode]))):
            on += timedelta(dice.choice([0, 0, 1, 4]))
            if state not in {known for known, _on in history}:
                history.append((state, on))
        if not history:
            history = [(STATES[mode][0], placed)]
        pool = [*self.codes, *self.unstocked]
        for code in dice.sample(pool, min(len(pool), dice.randint(1, 2))):
            packages = dice.randint(0, 9)
            for place, (state, since) in enumerate(history):
                if place and self.chance(0.15):
                    packages = dice.randint(0, 9)  # altered on the way
                if len(history) > 1 and self.chance(0.1):
                    continue  # this item's row of this state is not in the feed
                self.tables["online_orders"].append({
                    "order": number, "troop": troop, "participant": who, "placed_on": placed, "mode": mode,
                    "state": state, "state_on": since, "item": code, "packages": packages,
                    "goods_amount": packages * self.price[code],
                    "shipping_amount": Decimal("8.50") if mode == "by_post" and not place else None})  # fmt: skip

    def _money_feeds(self, troop: str) -> None:
        dice, tables = self.dice, self.tables
        due_days = [due["on"] for due in self.season.rules.get("dues", [])]
        for _ in range(dice.randrange(3)):
            on = dice.choice(due_days) if due_days and self.chance(0.7) else self.day()
            for heard in {on - timedelta(dice.randint(-2, 12)) for _ in range(dice.randint(1, 3))}:
                key = (troop, on, heard)
                if key not in {(r["troop"], r["on"], r["announced_on"]) for r in tables["collections"]}:
                    row = {"troop": troop, "on": on, "amount": self.money(500), "announced_on": heard}
                    if self.knows_kinds:
                        row["arrears"] = self.more.choice([None, None, "included", "apart"])
                    tables["collections"].append(row)
        for number in range(dice.randrange(4)):
            made = dice.choice(due_days) if due_days and self.chance(0.4) else self.day()
            amount, on = self.money(300), made
            history = dice.choice(PAID).split()
            for state in history:
                on += timedelta(dice.choice([0, 0, 1, 3]))
                tables["remittances"].append({
                    "reference": f"R-{troop}-{number}", "troop": troop, "date": made, "amount": amount, "state": state,
                    "state_on": on, "reason": "R01" if state == "returned" else None})  # fmt: skip
        for number in range(dice.randrange(4)):
            who = dice.choice([None, None, "troop", *self.people[troop]])
            amount = self.money(40) * dice.choice([1, 1, -1, -9])
            tables["adjustments"].append({
                "reference": f"A-{troop}-{number}", "troop": troop, "participant": who, "date": self.day(),
                "amount": amount, "reason": "agreed", "authorised_by": "area"})  # fmt: skip
        if self.chance(0.3):
            tables["organisation_balance"].append({"troop": troop, "on": self.day(), "owed": self.money(900)})
        if self.chance(0.3):
            tables["last_season"].append({"troop": troop, "week_no": 1, "participants": 9, "packages": 120})

    # What a troop reports

    def _week(self, troop: str, week: date, tables: dict[str, list[Row]]) -> None:
        """One troop-week; some are missing, some have a cover alone, some no stock (and so are not submitted)."""
        start = {"troop": troop, "week_ending": week}
        if self.chance(0.12):
            return
        tables["cover"].append(start | self._cover(week))
        if self.chance(0.06):
            return
        if self.chance(0.94):
            for code in self.codes:
                if self.chance(0.9):
                    count = None if self.chance(0.2) else self.dice.randrange(60)
                    damaged = self.dice.choice([0, 0, 0, None, 2])
                    tables["stock"].append(
                        start | {"item": code, "received": None, "damaged": damaged, "on_hand": count}
                    )
        for code in [*self.people[troop], "troop"]:
            if self.chance(0.5):
                self._family(tables["families"], start | {"participant": code})
        for place in ("Market hall", "Station", None):
            if self.chance(0.2):
                self._stall(tables["stalls"], start, week, place, troop)
        for number in range(self.dice.randrange(3)):
            amount, note = self.noted(200)
            tables["banked"].append(start | {"date": week - timedelta(self.dice.randrange(7)), "amount": amount,
                                             "slip": f"S{number}", "note": note})  # fmt: skip
        self._bank_rows(tables["banked"], start, week, troop)
        for code in self.people[troop]:
            if self.chance(0.1):
                tables["goals"].append(start | {"participant": code, "goal": self.dice.randrange(100)})

    def _bank_rows(self, rows: list[Row], start: Row, week: date, troop: str) -> None:
        """Fees, cheques that came back, change: with dice of their own, so that the rest of a season stays as it is."""
        if not self.knows_kinds:
            return
        for row in rows:
            row.setdefault("kind", None)
            row.setdefault("participant", None)
        dice, day = self.more, week - timedelta(self.more.randrange(7))
        for kind in ("fee", "returned_cheque", "returned_cheque", "float", "deposit"):
            if dice.random() < 0.25:
                amount = Decimal(dice.randint(100, 6000)) / 100
                sign = {"float": dice.choice([-1, 1]), "deposit": 1}.get(kind, -1)
                who = dice.choice([None, *self.people[troop]]) if kind == "returned_cheque" else None
                rows.append(start | {"date": day, "amount": sign * amount, "slip": None, "note": None,
                                     "kind": kind, "participant": who})  # fmt: skip

    def _cover(self, week: date) -> Row:
        balance, on = None, None
        if self.chance(0.5):
            balance, on = self.money(900), week - timedelta(self.dice.choice([-5, -2, -1, 0, 1, 3, 6, 7, 8]))
        return {"prepared_by": "leader", "prepared_on": week, "bank_balance": balance, "balance_on": on, "note": None}

    def _family(self, rows: list[Row], start: Row) -> None:
        """Packages by item and one row of money; large sums make overpaid families, negatives bring packages back."""
        sign = self.dice.choice([1, 1, 1, 1, -1])
        pool = [*self.codes, *self.unstocked]
        for code in self.dice.sample(pool, self.dice.randrange(len(pool))):
            packages = sign * self.dice.randint(0, 8)
            rows.append(start | {"item": code, "packages": packages, "cash": None, "card": None, "note": None})
        cash, note = self.noted(self.dice.choice([20, 60, 150]))
        card, other = self.noted(40) if self.chance(0.3) else (Decimal(0), None)
        note = note or other
        rows.append(start | {"item": None, "packages": 0, "cash": cash, "card": card, "note": note})

    def _stall(self, rows: list[Row], start: Row, week: date, place: str | None, troop: str) -> None:
        own = {"date": week - timedelta(self.dice.randrange(8)), "place": place,
               "start": self.dice.choice([None, time(9), time(13, 30)])}  # fmt: skip
        workers = self.dice.sample(self.people[troop], self.dice.randrange(3))
        if self.chance(0.1):
            workers = [*workers, "troop"]
        elsewhere = [who for other in self.season.troops if other != troop for who in self.people[other]]
        if elsewhere and self.more.random() < 0.2:
            workers = [*workers, self.more.choice(elsewhere)]
        if self.more.random() < 0.2:
            workers = [f"{who}:{self.more.randint(1, 300)}" for who in dict.fromkeys(workers)]
        no_gift = {"gift": None} if self.knows_kinds else {}
        for code in self.dice.sample([*self.codes, *self.unstocked], self.dice.randrange(3)):
            rows.append(start | own | {"item": code, "packages": self.dice.randrange(20), "cash": None, "card": None,
                                       "participants": workers, "note": None} | no_gift)  # fmt: skip
        cash, note = self.noted(150)
        money = {"item": None, "packages": 0, "cash": cash, "card": self.money(30)}
        row = start | own | money | {"participants": workers, "note": note}
        if self.knows_kinds:
            row["gift"] = Decimal(self.more.randint(1, 2000)) / 100 if self.more.random() < 0.3 else None
        rows.append(row)

    def _moves(self) -> None:
        """Moves that both report, that one of the two reports, that differ, and with another area."""
        for _ in range(self.dice.randrange(12)):
            week = self.dice.choice(self.season.weeks)
            present = sorted({r["troop"] for r in self.tables["cover"] if r["week_ending"] == week})
            if not present:
                continue
            one = self.dice.choice(present)
            others = [troop for troop in self.season.troops if troop != one]
            other = self.dice.choice([*others, "outside"])
            row = {
                "troop": one, "week_ending": week, "date": week - timedelta(self.dice.randrange(7)),
                "item": self.dice.choice(self.codes), "packages": self.dice.randint(1, 20),
                "direction": self.dice.choice(["in", "out"]), "other_troop": other}  # fmt: skip
            self.tables["moves"].append(row)
            if other in present and self.chance(0.7):
                answer = {
                    **row,
                    "troop": other,
                    "other_troop": one,
                    "direction": "out" if row["direction"] == "in" else "in",
                }
                if self.chance(0.4):
                    answer["packages"] = self.dice.randint(1, 20)
                self.tables["moves"].append(answer)

    def _draft(self, troop: str, week: date) -> None:
        """An earlier version of a troop-week: other rows for each sheet that it has in the end."""
        draft: dict[str, list[Row]] = {name: [] for name in SHEETS}
        self._week(troop, week, draft)
        for name in SHEETS:
            last = [r for r in self.tables[name] if r["troop"] == troop and r["week_ending"] == week]
            if last and draft[name]:  # a row in common: without one it would be asked whether the later one adds
                shared = [column for column in SHARED.get(name, ()) if column in last[0]]
                others = [r for r in draft[name] if any(r[column] != last[0][column] for column in shared)]
                self.season.drafts[name] += [*others, dict(last[0])] if shared else draft[name]
