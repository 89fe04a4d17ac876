"""The money between the troops and the organisation: collections, remittances, adjustments, balances.

Comes in: what really happened (Told), and the reports that will be accepted. Goes out: the same Told, with these rows
and with the bank balances that some leaders read added to their reports. Of some troops the organisation collects,
others send money themselves.
"""

from datetime import date, timedelta
from random import Random

from demo_warehouse.area import Setting
from demo_warehouse.owed import Books, is_cleared, is_pending, open_books
from demo_warehouse.records import Adjustment, Balance, BankLine, Collection, Remittance, Report, Told
from demo_warehouse.season import Due, dice

Booked = tuple[date, int, str, str]  # a line of a bank: its day, its amount, its kind, its text

ANNOUNCED_BEFORE = timedelta(days=11)
CREDITS = (
    ("twelve bags came crushed, credited", (-1, 7200)),
    ("a case short on delivery, credited", (-1, 8400)),
    ("depot fuel shared, credited", (-1, 1850)),
    ("a returned cheque's fee, charged", (1, 1200)),
)


class Treasury:
    """Makes one area's money with the organisation."""

    def __init__(self, setting: Setting, told: Told) -> None:
        self.setting, self.told = setting, told
        self.season, self.plan, self.until_week = setting.season, setting.plan, setting.until_week
        self.until = self.season.ends(self.until_week)

    def settle(self, accepted: list[Report]) -> None:
        """Adds the rows of every troop; the reports get their bank balances."""
        books = open_books(((troop.code, troop.rate_extra, troop.divisor) for troop in self.setting.area), accepted)
        for supply in self.told.supplies:
            books[supply.troop].supplies.append(supply)
        for order in self.told.orders:
            books[order.troop].orders.append(order)
        for adjustment in self.told.adjustments:
            books[adjustment.troop].adjustments.append(adjustment)
        reports: dict[str, list[Report]] = {troop.code: [] for troop in self.setting.area}
        for report in self.told.reports:
            reports[report.troop].append(report)
        for troop in self.setting.area:
            rng = dice(self.setting.seed, "money", troop.code)
            self._adjust(troop.code, books[troop.code])
            self._pay(troop.code, books[troop.code], rng)
            self._read_bank(troop.code, reports[troop.code], books[troop.code].remittances)
            self._balances(troop.code, books[troop.code])
        self._statements(reports, books)

    def _adjust(self, code: str, books: Books) -> None:
        for week in range(2, self.until_week + 1):
            rng = dice(self.setting.seed, "adjust", code, week)
            if rng.random() < 0.03 and books.supplies:
                reason, (sign, amount) = rng.choice(CREDITS)
                on = self.season.starts(week) + timedelta(days=rng.randint(0, 4))
                reference = f"ADJ-{code}-{week}"
                books.adjustments.append(Adjustment(reference, code, "", on, -sign * amount, reason, "depot keeper"))
                self.told.adjustments.append(books.adjustments[-1])

    # Due dates

    def _pay(self, code: str, books: Books, rng: Random) -> None:
        is_collected = rng.random() < 0.6
        for kind in ("collection_under_way", "bank_may_not_cover", "returned_remittance", "arrears_said"):
            is_collected = is_collected or self.plan.of(kind, code) is not None
        for number, due in enumerate(self.season.dues(), 1):
            if due.on - ANNOUNCED_BEFORE > self.until or (due.on > self.until and not is_collected):
                break
            behind = self.plan.since("past_due", code, self.season.week_of(due.on))
            if behind or not books.supplies or self.plan.of("nobody_selling", code):
                continue
            amount = self._collect(code, books, due) if is_collected else self._asked(books, due)
            on = due.on if is_collected else due.on - timedelta(days=rng.choice((0, 1)))
            if amount > 0 and on <= self.until:
                sent = Remittance(f"R-{code}-{number}", code, on, amount, self._states(code, on, rng))
                for one in (sent, *self._sent_again(sent)):
                    books.remittances.append(one)
                    self.told.remittances.append(one)

    def _collect(self, code: str, books: Books, due: Due) -> int:
        """What the organisation announces: the share of the day on which it looks, less what is paid or on its way."""
        looked_on = due.on - ANNOUNCED_BEFORE
        owed = books.owed_on(looked_on)
        pending = sum(sent.amount for sent in books.remittances if is_pending(sent, looked_on))
        amount = max(0, owed.share(due.share) - max(0, owed.credits) - pending)
        if amount:
            said = "included" if self.plan.of("arrears_said", code) else ""
            self.told.collections.append(Collection(code, due.on, amount, looked_on, said))
        return amount

    def _asked(self, books: Books, due: Due) -> int:
        """What a leader sends by herself: what the due date asks for, up to the next whole dollar."""
        asked = books.owed_on(due.cutoff).share(due.share) - max(0, books.owed_on(due.on).credits)
        return -(-max(0, asked) // 100) * 100

    def _sent_again(self, sent: Remittance) -> list[Remittance]:
        """What was sent once more after it came back: on the next day, and, in somebody's worry, on the day after."""
        if not self.plan.at("sent_twice", sent.troop, self.season.week_of(sent.on)):
            return []
        again = []
        for number in (1, 2):
            on = sent.on + timedelta(days=number)
            states = [("pending", on, ""), ("cleared", on + timedelta(days=1), "")]
            again.append(Remittance(f"{sent.reference}-{number}", sent.troop, on, sent.amount, states))
        return again

    def _states(self, code: str, on: date, rng: Random) -> list[tuple[str, date, str]]:
        """What becomes of a remittance: cleared after a day or three, unless the table of troubles says otherwise."""
        week = self.season.week_of(on)
        then = ("cleared", on + timedelta(days=rng.choice((1, 2, 2, 3))), "")
        if self.plan.at("returned_remittance", code, week):
            then = ("returned", on + timedelta(days=3), "R01 not enough money in the account")
        elif self.plan.at("sent_twice", code, week):
            then = ("returned", on + timedelta(days=1), "R03 no such account")
        elif self.plan.at("collection_under_way", code, week):
            then = ("cleared", self.season.ends(week) + timedelta(days=1), "")
        return [("pending", on, ""), then]

    # What people read

    def _read_bank(self, code: str, reports: list[Report], remittances: list[Remittance]) -> None:
        """Some leaders look at the bank in some weeks; the account holds some other money too."""
        rng = dice(self.setting.seed, "bank", code)
        other_money, often = rng.choice((0, 0, rng.randint(4000, 45000))), rng.choice((0.1, 0.4, 0.8))
        banked = 0
        for report in reports:
            banked += sum(deposit.amount for deposit in report.banked) + report.card()
            balance_on = report.ends - timedelta(days=rng.choice((0, 0, 1, 2)))
            is_low = self.plan.at("bank_may_not_cover", code, report.week)
            remitted = sum(sent.amount for sent in remittances if is_cleared(sent, balance_on))
            in_bank = banked - remitted + other_money
            if (rng.random() < often or is_low) and in_bank > 0:
                report.bank_balance, report.balance_on = in_bank, balance_on
            if is_low:
                self._spend(report)

    # What the banks of some troops booked

    def _statements(self, reports: dict[str, list[Report]], books: dict[str, Books]) -> None:
        """The statements of those troops of which one came in, the lines in the order of their days."""
        booked: dict[str, list[Booked]] = {}
        for troop in self.setting.area:
            found = [self.plan.of(kind, troop.code) for kind in ("bank_lines", "collected_twice", "another_account")]
            for code in sorted({code for one in found if one for code in (one.troop, one.other) if code}):
                booked.setdefault(code, self._booked(code, reports[code], books[code].remittances))
        for code in list(booked):
            if wrong := self.plan.of("another_account", code):
                deposits = [line for line in booked[code] if line[2] == "deposit"]
                for line in [line for line in deposits if self.season.week_of(line[0]) == wrong.week][:1]:
                    booked[code].remove(line)
                    booked[wrong.other].append(line)
        for code, lines in booked.items():
            for number, (on, amount, kind, text) in enumerate(sorted(lines), 1):
                self.told.bank_lines.append(BankLine(code, f"B{number:03d}", on, amount, kind, text))

    def _booked(self, code: str, reports: list[Report], remittances: list[Remittance]) -> list[Booked]:
        """What one troop's bank booked: what the troop knows of, and what the table of troubles adds."""
        booked: list[Booked] = []
        for report in reports:
            for row in report.banked:
                booked.append((row.on + timedelta(days=1), row.amount, row.kind or "deposit", row.slip))
            if report.card():
                booked.append((report.ends + timedelta(days=2), report.card(), "card", "card payments"))
        paid = [(sent.states[-1][1], -sent.amount, "", sent.reference) for sent in remittances
                if sent.states[-1][0] == "cleared"]  # fmt: skip
        booked += paid
        if unknown := self.plan.of("bank_lines", code):
            booked.append((self.season.starts(min(self.until_week, 4)), -unknown.number, "", "stationery"))
        if self.plan.of("collected_twice", code) and paid:
            on, amount, kind, text = max(paid)
            booked.append((on + timedelta(days=2), amount, kind, text))
        return booked

    def _spend(self, report: Report) -> None:
        """The account paid for something else, so that it may not cover the collection that is announced."""
        announced = [row for row in self.told.collections if row.troop == report.troop and row.on > report.ends]
        if announced and report.bank_balance is not None:
            report.bank_balance = min(report.bank_balance, announced[-1].amount * 6 // 10)
            report.note = "the deposit for the summer camp was paid from this account"

    def _balances(self, code: str, books: Books) -> None:
        """The organisation's own figure at each week's end: ours, unless the table of troubles says otherwise."""
        for week in range(2, self.until_week + 1):
            on = self.season.ends(week)
            owed = books.owed_on(on).owed
            if differs := self.plan.at("books_differ", code, week):
                owed += self._not_known_to_them(books, on, differs.item)
            self.told.balances.append(Balance(code, on, owed))

    def _not_known_to_them(self, books: Books, on: date, item: str) -> int:
        """What their figure is off by: the latest depot fetch, or the latest remittance that has cleared."""
        fetched = [(supply.on, supply.document) for supply in books.supplies if supply.kind == "depot"]
        if item and fetched:  # a small area's troop may never have been at the depot
            document = max(fetched)[1]
            short = Books("", "", supplies=[supply for supply in books.supplies if supply.document != document])
            whole = Books("", "", supplies=books.supplies)
            return short.owed_on(on).charged - whole.owed_on(on).charged
        cleared = [sent.amount for sent in books.remittances if is_cleared(sent, on)]
        return cleared[-1] if cleared else 2500
