"""Online orders: who ordered what, how it is to reach the buyer, and what became of it.

Comes in: a troop's stockroom, the week, the troubles. Goes out: orders with their whole history, and on the stockroom's
agenda what a hand-delivered one does to its family: it pays, and the family comes for packages; it adds none.
"""

from collections import Counter
from datetime import date, timedelta
from random import Random

from demo_warehouse.records import Order
from demo_warehouse.season import BOX_OF, GIFT_BOX, GIVEN, Season, dice, postage
from demo_warehouse.stockroom import Agenda, Family, Stockroom, pick, worth
from demo_warehouse.troubles import Plan

MODES = ("by_post", "by_hand", "donated")


class OnlineWeek:
    """Makes the online orders that one troop is sent in one week."""

    def __init__(self, stockroom: Stockroom, season: Season, week: int, rng: Random, plan: Plan) -> None:
        self.stockroom, self.season, self.week, self.rng, self.plan = stockroom, season, week, rng, plan
        self.orders: list[Order] = []

    def placed(self) -> list[Order]:
        """The week's orders, the usual and the troubled."""
        rng = self.rng
        selling = self.stockroom.selling(self.season.ends(self.week).toordinal())
        for family in selling:
            if family.participant and 0 < family.participant.page_week <= self.week and rng.random() < 0.22:
                self._order(family, rng.choices(MODES, (48, 36, 16))[0])
        if selling and not self.plan.of("tiny_troop", self.stockroom.code) and rng.random() < 0.15:
            self._order(self.stockroom.own_page, rng.choices(MODES, (40, 40, 20))[0])
        if selling:
            self._troubled(selling)
        return self.orders

    def _troubled(self, selling: list[Family]) -> None:
        code, week, ends = self.stockroom.code, self.week, self.season.ends(self.week)
        families = selling * 3
        if self.plan.at("paid_ahead", code, week):
            for family in sorted(selling, key=lambda family: family.owes)[:3]:
                self._by_hand(family, pick(self.rng, 18), ends - timedelta(days=4), ["taken_on"], collect_in=2)
        if self.plan.at("hand_delivered", code, week):
            for k, family in enumerate(families[:12]):
                packages = pick(self.rng, self.rng.randint(8, 12))
                self._by_hand(family, packages, ends - timedelta(days=k % 5 + 1), ["taken_on", "done"])
        if waiting := self.plan.of("orders_waiting", code):
            for days in (11, 8, 3):  # before the end of the week in which they are a trouble
                on = self.season.ends(waiting.week) - timedelta(days=days)
                if self.season.week_of(on) == week:
                    self._by_hand(families[days % len(families)], pick(self.rng, 4), on, [])
        if page := self.plan.at("stall_and_page", code, week):
            ordered, on = Counter({page.item: page.number}), self.season.starts(week)
            self._by_hand(self.stockroom.own_page, ordered, on, ["taken_on"], collect_in=99)
        if small := self.plan.at("posted_under_minimum", code, week):
            self._posted(families[0], pick(self.rng, small.number), ends - timedelta(days=3))

    def _order(self, family: Family, mode: str) -> None:
        on = self.season.starts(self.week) + timedelta(days=self.rng.randint(0, 6))
        if mode == "by_post":
            packages = pick(self.rng, self.rng.choice((4, 4, 5, 6, 6, 8, 10, 14)))
            own = dice("gift box", self.stockroom.code, self.stockroom.orders)
            self._posted(family, Counter({GIFT_BOX: own.choice((1, 1, 2))}) if own.random() < 0.08 else packages, on)
        elif mode == "donated":
            order = self._new(family, on, mode, Counter({GIVEN: self.rng.randint(1, 6)}))
            if self.rng.random() < 0.03:
                order.states.append(("withdrawn", on + timedelta(days=2)))
        else:
            ways = (["taken_on", "done"], ["taken_on", "withdrawn"], ["refused"], ["given_instead"], ["withdrawn"])
            way = self.rng.choices(ways, (86, 2, 5, 4, 3))[0]
            self._by_hand(family, pick(self.rng, self.rng.choice((2, 3, 3, 4, 5, 6, 8))), on, list(way))

    def _posted(self, family: Family, packages: Counter[str], on: date) -> None:
        order = self._new(family, on, "by_post", packages)
        if self.rng.random() < 0.96:
            order.states.append(("sent", on + timedelta(days=self.rng.randint(2, 4))))
        else:
            order.states.append(("withdrawn", on + timedelta(days=1)))
        own, counts = dice("postage", order.number), sum(BOX_OF[item] * count for item, count in packages.items())
        order.is_far = own.random() < 0.2
        order.shipping = postage(counts, is_far=order.is_far and own.random() > 0.05)
        if own.random() < 0.02:  # the organisation's sum is of another tier
            order.shipping = postage(counts + 5, is_far=order.is_far)

    def _by_hand(
        self, family: Family, packages: Counter[str], on: date, way: list[str], collect_in: int | None = None
    ) -> None:
        """An order that waits, then goes the way named; the family collects after so many weeks (None: as it falls)."""
        order = self._new(family, on, "by_hand", packages)
        order.otherwise = dice("otherwise", order.number).choice(("given_instead", "given_instead", "withdrawn"))
        day, states = on, order.states
        for state in way:
            day += timedelta(days=self.rng.randint(0, 4) if state != "done" else self.rng.randint(7, 16))
            states.append((state, day))
        if not way or way[0] != "taken_on":
            return
        taken_on_week = self.season.week_of(states[1][1])
        goods = worth(packages)
        self._plan(taken_on_week, Agenda(family, goods))
        if way[-1] == "withdrawn":
            self._plan(self.season.week_of(states[-1][1]), Agenda(family, -goods))
        else:
            wait = self.rng.randint(0, 1) if collect_in is None else collect_in
            self._plan(taken_on_week + wait, Agenda(family, 0, dict(packages)))

    def _plan(self, week: int, entry: Agenda) -> None:
        self.stockroom.agenda.setdefault(week, []).append(entry)

    def _new(self, family: Family, on: date, mode: str, packages: Counter[str]) -> Order:
        """An order in its first state."""
        self.stockroom.orders += 1
        number = f"HV-{self.stockroom.code}-{self.stockroom.orders:04d}"
        bought = {item: count for item, count in packages.items() if count}
        first = "waiting" if mode == "by_hand" else "placed"
        order = Order(number, self.stockroom.code, family.code, on, mode, bought, 0, [(first, on)])
        self.orders.append(order)
        return order
