"""What a troop owes the organisation on a day, in a short plain computation of its own.

Comes in: a troop's accepted reports, its supplies, orders, remittances and adjustments. Goes out: charged, proceeds,
credits and owed, exact in cents. The organisation's own books in the demo are made from it, so it is also a second
opinion on the tool's figures: it shares no code with them.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from demo_warehouse.records import OUTSIDE, OWN_PAGE, Adjustment, Order, Remittance, Report, Supply
from demo_warehouse.season import GIVEN, TIERS
from demo_warehouse.stockroom import worth

RANKS = {
    "by_post": ("placed", "sent", "withdrawn"),
    "donated": ("placed", "withdrawn"),
    "by_hand": ("waiting", "taken_on", "done", "refused", "withdrawn", "given_instead"),
}
REMOTE = {("by_post", "placed"), ("by_post", "sent"), ("donated", "placed"), ("by_hand", "given_instead")}
PAID_BY_HAND = {("by_hand", "taken_on"), ("by_hand", "done")}


@dataclass(frozen=True, slots=True)
class Owed:
    """Cents; `owed` is charged less proceeds less credits."""

    charged: int
    proceeds: int
    credits: int

    @property
    def owed(self) -> int:
        """What is left to pay."""
        return self.charged - self.proceeds - self.credits

    def share(self, share: str) -> int:
        """A share of what is charged less the proceeds, to the cent, never below 0."""
        return max(0, cents(Decimal(share) * (self.charged - self.proceeds)))


@dataclass(slots=True)
class Week:
    """What counts of one accepted report."""

    ends: date
    sold: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)  # by participant
    stood: set[str] = field(default_factory=set)  # who worked a stall
    moved: list[tuple[str, int]] = field(default_factory=list)  # packages that came; negative: went


@dataclass(slots=True)
class Books:
    """One troop's rows."""

    rate_extra: str
    divisor: str
    weeks: dict[int, Week] = field(default_factory=dict)
    supplies: list[Supply] = field(default_factory=list)
    orders: list[Order] = field(default_factory=list)
    remittances: list[Remittance] = field(default_factory=list)
    adjustments: list[Adjustment] = field(default_factory=list)

    def owed_on(self, day: date) -> Owed:
        """The troop's standing with the organisation as of a day."""
        available, sold, sellers = self._from_stock(day)
        paid_online = remote = remote_worth = 0
        for order in self.orders:
            effect = (order.mode, state_on(order, day))
            if effect in REMOTE:
                remote += sum(order.packages.values())
                remote_worth += worth(order.packages)
            if effect in REMOTE or effect in PAID_BY_HAND:
                paid_online += worth(order.packages)
                sellers.add(order.participant)
        divisor = Decimal(self.divisor or len(sellers - {OWN_PAGE, ""}))
        rate = Decimal(TIERS[0][1])
        for from_average, tier_rate in TIERS:
            if divisor and sold + remote >= from_average * divisor:
                rate = Decimal(tier_rate)
        packages = available.total() + remote
        proceeds = cents((rate + Decimal(self.rate_extra or 0)) * 100 * packages)
        remitted = sum(remittance.amount for remittance in self.remittances if is_cleared(remittance, day))
        adjusted = sum(adjustment.amount for adjustment in self.adjustments if adjustment.on <= day)
        return Owed(worth(available) + remote_worth, proceeds, paid_online + remitted + adjusted)

    def _from_stock(self, day: date) -> tuple[Counter[str], int, set[str]]:
        available: Counter[str] = Counter()
        for supply in self.supplies:
            if supply.on <= day and supply.kind != "exchange":
                available[supply.item] += -supply.packages if supply.kind == "returned" else supply.packages
        taken: Counter[str] = Counter()
        sellers: set[str] = set()
        sold = 0
        for week in self.weeks.values():
            if week.ends > day:
                continue
            sold += week.sold.total()
            available[GIVEN] += week.sold[GIVEN]
            taken.update(week.taken)
            sellers |= week.stood
            for item, packages in week.moved:
                available[item] += packages
        sellers |= {participant for participant, packages in taken.items() if packages > 0}
        return available, sold, sellers


def cents(amount: Decimal) -> int:
    """Whole cents, half away from zero (amounts here are not negative)."""
    return int(amount.quantize(Decimal(1), ROUND_HALF_UP))


def state_on(order: Order, day: date) -> str:
    """An order's state on a day, "" before it was placed; of two on one day the one further on."""
    if day < order.placed_on:
        return ""
    ranks = RANKS[order.mode]
    known = [(on, ranks.index(state)) for state, on in order.states if on <= day]
    return ranks[max(known)[1]] if known else ranks[0]


def is_cleared(remittance: Remittance, day: date) -> bool:
    """Whether a remittance pays on a day."""
    return _state(remittance, day) == "cleared"


def is_pending(remittance: Remittance, day: date) -> bool:
    """Whether a remittance is on its way on a day."""
    return _state(remittance, day) == "pending"


def _state(remittance: Remittance, day: date) -> str:
    return next((state for state, on, _ in reversed(remittance.states) if on <= day), "")


def open_books(codes: Iterable[tuple[str, str, str]], reports: Iterable[Report]) -> dict[str, Books]:
    """The books of each troop (code, extra rate, divisor), with what counts of the accepted reports in them."""
    books = {code: Books(extra, divisor) for code, extra, divisor in codes}
    accepted = {(report.troop, report.week): report for report in reports}
    for (code, number), report in accepted.items():
        week = books[code].weeks.setdefault(number, Week(report.ends))
        for row in report.families:
            week.sold.update(row.packages)
            week.taken[row.participant] += sum(row.packages.values())
        for stall in report.stalls:
            week.sold.update(stall.packages)
            week.stood.update(stall.participants)
            for guest in stall.guests:  # she takes part in her own troop
                own = books[guest.partition("-")[0]].weeks.setdefault(number, Week(report.ends))
                own.stood.add(guest)
    for report in accepted.values():
        _post_moves(books, accepted, report)
    return books


def _post_moves(books: dict[str, Books], accepted: dict[tuple[str, int], Report], report: Report) -> None:
    """A move counts on the giver's word; on the receiver's where the giver is outside or sent nothing."""
    for move in report.moves:
        is_given = move.direction == "out"
        if not is_given and move.other != OUTSIDE and (move.other, report.week) in accepted:
            continue
        came = -move.packages if is_given else move.packages
        for troop, packages in ((report.troop, came), (move.other, -came)):
            if troop != OUTSIDE:  # the other side's books have it also where the other side sent nothing
                week = books[troop].weeks.setdefault(report.week, Week(report.ends))
                week.moved.append((move.item, packages))
