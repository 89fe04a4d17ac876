"""What really happened in the area, week by week: every troop's packages and cash, followed from day to day.

Comes in: the season, the area, the troubles, the seed. Goes out: what came about (Told): each troop's weekly report as
an honest leader would write it, and the rows behind the feeds. A week is made from random numbers of its own, so that
a season's first weeks are the same however many follow.
"""

from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from random import Random

from demo_warehouse.area import Setting
from demo_warehouse.families import FamilyWeek
from demo_warehouse.online import OnlineWeek
from demo_warehouse.records import OUTSIDE, Count, Deposit, Move, Page, Report, Supply, Told
from demo_warehouse.season import PER_CASE, STOCKED, dice
from demo_warehouse.stalls import USUAL, stalls
from demo_warehouse.stockroom import Stockroom

OPENING_PART = 0.37  # of what a troop will sell, about
STALL_PACKAGES = 32
Side = tuple[Stockroom, Report]


class World:
    """The area while its season goes on."""

    def __init__(self, setting: Setting) -> None:
        self.season, self.plan, self.setting = setting.season, setting.plan, setting
        self.stockrooms = [Stockroom(troop) for troop in setting.area]
        self.told = Told()

    def run(self, week_done: Callable[[int], None]) -> Told:
        """Lets the weeks go by; `week_done` is called after each."""
        for week in range(1, self.setting.until_week + 1):
            reports = [self._begin(stockroom, week) for stockroom in self.stockrooms]
            self._moves(week, reports)
            for stockroom, report in zip(self.stockrooms, reports, strict=True):
                self._go_on(stockroom, report)
            self.told.reports += reports
            week_done(week)
        return self.told

    def _rng(self, what: str, code: str, week: int) -> Random:
        return dice(self.setting.seed, what, code, week)

    # Packages that come from the organisation

    def _begin(self, stockroom: Stockroom, week: int) -> Report:
        """The week's start: packages come in."""
        rng = self._rng("supply", stockroom.code, week)
        ends = self.season.ends(week)
        leader = stockroom.troop.leader
        report = Report(stockroom.code, week, ends, leader, ends - timedelta(days=rng.choice((0, 0, 0, 1))))
        if week == 1:
            received = self._opening(stockroom, rng)
        else:
            received = self._depot(stockroom, week, rng)
            self._exchange(stockroom, week)
            self._return(stockroom, week, rng)
        stockroom.sold.append(Counter())
        codes = [item.code for item in STOCKED]
        had = [code for code in codes if code in stockroom.seen]
        report.stock = {item: Count() for item in had or codes}  # who has nothing says so of each item
        for item, packages in received.items():
            report.stock[item].received = packages
        return report

    def _supply(self, stockroom: Stockroom, packages: Counter[str], kind: str, week: int, weekday: int) -> None:
        """One supply document, dated on a weekday (0 is Monday) of the week, or before the season for an opening."""
        if not packages:
            return
        letters = {"opening": "OP", "depot": "DP", "exchange": "EX", "returned": "RT"}[kind]
        stockroom.documents += 1
        document = f"{letters}-{stockroom.code}-{stockroom.documents}"
        on = self.season.starts(week) + timedelta(days=weekday)
        for item, count in packages.items():
            self.told.supplies.append(Supply(document, stockroom.code, item, on, count, kind))
            stockroom.put(item, -count if kind == "returned" else count)

    def _opening(self, stockroom: Stockroom, rng: Random) -> Counter[str]:
        """Whole cases, ordered from what last year sold."""
        appetites = [person.appetite for person in stockroom.troop.participants if person.is_active]
        tables = USUAL[stockroom.troop.level] * min(1, len(appetites) / 10) * max(0, self.season.weeks - 2)
        if self.plan.of("tiny_troop", stockroom.code):
            tables = 0
        wanted = (sum(appetites) * 1.25 + tables * STALL_PACKAGES) * OPENING_PART * rng.uniform(0.9, 1.1)
        if self.plan.of("bank_may_not_cover", stockroom.code):
            wanted *= 2.6
        packages: Counter[str] = Counter()
        for item in STOCKED:
            cases = round(wanted * item.popularity / item.per_case)
            at_least = 1 if item.popularity > (0.12 if len(stockroom.families) > 5 else 0.14) else 0
            packages[item.code] = max(cases, at_least) * item.per_case
        if slow := self.plan.of("slow_stock", stockroom.code):
            packages[slow.item] += slow.number * PER_CASE[slow.item]
        if stockroom.troop.participants:
            self._supply(stockroom, +packages, "opening", 1, -3)
        else:
            packages.clear()
        return +packages

    def _depot(self, stockroom: Stockroom, week: int, rng: Random) -> Counter[str]:
        """A fetch in whole cases of what would not last."""
        packages: Counter[str] = Counter()
        recent = stockroom.sold[-2:]
        lately = sum(sold.total() for sold in recent) / len(recent)
        if len(stockroom.families) <= 5 and stockroom.on_hand.total() > 2 * lately:
            return packages  # few families make do with what is there
        for item in STOCKED:
            weekly = sum(sold[item.code] for sold in recent) / len(recent)
            ordered = sum(entry.to_collect.get(item.code, 0) for entry in stockroom.agenda.get(week, ()))
            enough = weekly * (2.1 if week < self.season.weeks - 2 else 1.1) + ordered
            if stockroom.on_hand[item.code] < enough * 0.85 and week < self.season.weeks:
                cases = -(-round(enough - stockroom.on_hand[item.code]) // item.per_case)
                packages[item.code] = max(0, cases) * item.per_case
        late = self.plan.at("books_differ", stockroom.code, week)
        if late and late.item:
            packages[late.item] += late.number
        packages = +packages
        self._supply(stockroom, packages, "depot", week, rng.choice((1, 2, 2, 3)))
        return packages

    def _exchange(self, stockroom: Stockroom, week: int) -> None:
        if more := self.plan.at("exchanged_more", stockroom.code, week):
            stockroom.to_exchange[more.item] += more.number
        self._supply(stockroom, +stockroom.to_exchange, "exchange", week, 2)
        stockroom.to_exchange.clear()

    def _return(self, stockroom: Stockroom, week: int, rng: Random) -> None:
        """Near the end whole cases go back that will hardly sell; now and then one earlier."""
        packages: Counter[str] = Counter()
        is_late = week >= self.season.weeks - 1
        if rng.random() < (0.7 if is_late else 0.02):
            for item in STOCKED:
                weekly = stockroom.sold[-1][item.code]
                spare = stockroom.on_hand[item.code] - weekly * (2 if is_late else 6)
                packages[item.code] = max(0, spare // item.per_case) * item.per_case
        self._supply(stockroom, +packages, "returned", week, 3)

    # Packages that go from troop to troop

    def _moves(self, week: int, reports: list[Report]) -> None:
        """Some troops help others out, told alike by both unless the table of troubles says otherwise."""
        both = {room.code: (room, report) for room, report in zip(self.stockrooms, reports, strict=True)}
        rng = self._rng("moves", "area", week)
        for code, giver in both.items():
            for kind in ("one_sided_move", "moves_differ"):
                if trouble := self.plan.at(kind, code, week):
                    told = 12 if kind == "moves_differ" else trouble.number
                    self._move(giver, both[trouble.other], told, trouble.number, rng)
        codes = [code for code in both if not self.plan.of("nobody_selling", code)]
        for _ in codes:
            if rng.random() < 0.12:
                giver_code, taker_code = rng.choice(codes), rng.choice(codes)
                packages = rng.choice((4, 6, 6, 12))
                taker = None if giver_code == taker_code else both[taker_code]
                self._move(both[giver_code], taker, packages, packages, rng)

    def _move(self, giver: Side, taker: Side | None, told: int, came: int, rng: Random) -> None:
        """The giver says that `told` packages left, `came` arrive; without a taker they go to another area."""
        stockroom, report = giver
        item, other = stockroom.fullest(), taker[0].code if taker else OUTSIDE
        told_already = any(move.item == item and move.other == other for move in report.moves)
        if stockroom.on_hand[item] < told + 6 or told_already:
            return
        on = self.season.starts(report.week) + timedelta(days=rng.randint(0, 5))
        stockroom.on_hand[item] -= told
        report.moves.append(Move(on, item, told, "out", other))
        if taker:
            taker[0].put(item, came)
            taker[1].stock.setdefault(item, Count())
            taker[1].moves.append(Move(on, item, came, "in", stockroom.code))

    # Families, stalls, the bank, the count

    def _go_on(self, stockroom: Stockroom, report: Report) -> None:
        week, code = report.week, stockroom.code
        rng = self._rng("week", code, week)
        self.told.orders += OnlineWeek(stockroom, self.season, week, rng, self.plan).placed()
        for entry in stockroom.agenda.pop(week, ()):
            entry.family.online += entry.paid_online
            entry.family.to_collect.update(entry.to_collect)
        families = FamilyWeek(stockroom, self.season, week, rng, self.plan)
        report.families = families.rows()
        self.told.adjustments += families.adjustments
        report.stalls = stalls(stockroom, self.season, week, rng, self.plan)
        guest = self.plan.at("guest_at_stall", code, week)
        others = {who for room in self.stockrooms if guest and room.code == guest.other for who in room.families}
        if guest and report.stalls and guest.participant in others:
            report.stalls[0].guests = (guest.participant,)
        if self.plan.at("cases_typed", code, week):
            families.loose_packages(report.families)
        for person in stockroom.troop.participants:
            if person.goal_week == week and person.registered_on <= report.ends:
                report.goals[person.code] = person.goal
        report.banked = self._banked(stockroom, report, rng)
        self._count(stockroom, report, rng)
        self._pages(stockroom, report, rng)

    def _banked(self, stockroom: Stockroom, report: Report, rng: Random) -> list[Deposit]:
        """Last week's cash goes to the bank a day or two after the weekend, some of this week's before the next."""
        deposits = []
        is_kept = self.plan.since("cash_unbanked", stockroom.code, report.week)
        if stockroom.cash > 0 and not is_kept:
            kept_for_refunds = max(0, -report.cash())
            deposits.append((rng.choice((0, 1, 1, 2)), stockroom.cash - kept_for_refunds))
            stockroom.cash = kept_for_refunds
        of_families = sum(row.cash for row in report.families)
        if of_families > 20000 and not is_kept and rng.random() < 0.5:
            deposits.append((4, of_families // 2 // 1000 * 1000))
        stockroom.cash += report.cash() - sum(amount for day, amount in deposits if day == 4)
        slips = []
        for day, amount in deposits:
            stockroom.slips += 1
            on = self.season.starts(report.week) + timedelta(days=day)
            slips.append(Deposit(on, amount, f"{int(stockroom.code) % 90 + 10}{stockroom.slips:03d}"))
        return [*slips, *self._of_the_bank(stockroom.code, report)]

    def _of_the_bank(self, code: str, report: Report) -> list[Deposit]:
        """Rows of the bank that are no deposits."""
        on, rows = report.ends - timedelta(days=3), []
        for trouble, kind in (("bank_fee", "fee"), ("float_taken", "float"), ("cheque_came_back", "returned_cheque")):
            if found := self.plan.at(trouble, code, report.week):
                rows.append(Deposit(on, -found.number, "", kind=kind, participant=found.participant))
        return rows

    def _count(self, stockroom: Stockroom, report: Report, rng: Random) -> None:
        for item, line in report.stock.items():
            is_whole_cases = self.plan.at("cases_typed", stockroom.code, report.week)
            if rng.random() < 0.012 and stockroom.on_hand[item] > 4 and not is_whole_cases:
                line.damaged = rng.choice((1, 1, 2))
                stockroom.on_hand[item] -= line.damaged
                if rng.random() < 0.7:
                    stockroom.to_exchange[item] += line.damaged
        if lost := self.plan.at("packages_missing", stockroom.code, report.week):
            item = stockroom.fullest()
            stockroom.on_hand[item] -= min(lost.number, stockroom.on_hand[item])
        for item, line in report.stock.items():
            line.on_hand = stockroom.on_hand[item]

    def _pages(self, stockroom: Stockroom, report: Report, rng: Random) -> None:
        for person in stockroom.troop.participants:
            if person.registered_on > report.ends:
                continue
            is_open = 0 < person.page_week <= report.week
            weeks_open = report.week - person.page_week + 1 if is_open else 0
            told = min(person.told, person.told * weeks_open // 3)
            waits = not is_open and 0 < person.page_week <= report.week + 2
            picture = person.own_picture if is_open else "no"
            delivers = is_open and int(person.code[-1]) % 4 != 0
            page = Page(stockroom.code, person.code, report.ends, is_open, waits, picture, delivers, told)
            self.told.pages.append(page)
