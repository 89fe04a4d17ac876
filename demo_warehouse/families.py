"""One week between a troop and its families: packages taken and brought back, money handed in.

Comes in: a troop's stockroom, the week, the troubles. Goes out: the rows of the Families sheet, and now and then an
adjustment where a family settled otherwise. Families pay in believable notes, mostly a week or two after they took.
"""

from collections import Counter
from random import Random

from demo_warehouse.area import sibling
from demo_warehouse.records import OWN_PAGE, Adjustment, FamilyRow
from demo_warehouse.season import GIVEN, PER_CASE, Season
from demo_warehouse.stockroom import Family, Stockroom, pick, worth
from demo_warehouse.troubles import Plan


class FamilyWeek:
    """Makes the Families rows of one troop and week."""

    def __init__(self, stockroom: Stockroom, season: Season, week: int, rng: Random, plan: Plan) -> None:
        self.stockroom, self.season, self.week, self.rng, self.plan = stockroom, season, week, rng, plan
        self.code = stockroom.code
        self.adjustments: list[Adjustment] = []
        self.refunded = 0

    def rows(self) -> list[FamilyRow]:
        """A row for each family that took, brought back or paid something, the troop's own page last."""
        selling = self.stockroom.selling(self.season.ends(self.week).toordinal())
        chosen = {family.code: self._takes(family) for family in selling}
        for family in [*self.stockroom.families.values(), self.stockroom.own_page]:
            if family.to_collect:
                self._collect(family, chosen.setdefault(family.code, Counter()))
        self._troubled_takes(selling, chosen)
        unpaying = self._unpaying(selling)
        rows = []
        for family in [*self.stockroom.families.values(), self.stockroom.own_page]:
            packages = chosen.get(family.code, Counter())
            packages = Counter({item: count for item, count in packages.items() if count})
            family.old_debt = family.owes
            family.charged += worth(packages)
            family.held.update(packages)
            self.stockroom.sell(packages)
            row = FamilyRow(family.code, dict(packages))
            if family.code != OWN_PAGE and family.code not in unpaying:
                self._pays(family, row)
            if row.packages or row.cash or row.card:
                rows.append(row)
        return rows

    def loose_packages(self, rows: list[FamilyRow]) -> None:
        """The loose packages of the item with most on hand go to the first family that took some: whole cases stay."""
        item = self.stockroom.fullest()
        loose = self.stockroom.on_hand[item] % PER_CASE[item]
        taking = [row for row in rows if row.packages.get(item, 0) >= 0 and row.participant in self.stockroom.families]
        if taking and loose:
            row = taking[0]
            row.packages[item] = row.packages.get(item, 0) + self.stockroom.take(item, loose)
            self.stockroom.families[row.participant].charged += worth({item: loose})

    def _takes(self, family: Family) -> Counter[str]:
        expected = family.appetite * self.season.demand(self.week)
        often = 0.9 if self.week == 1 or self.plan.of("tiny_troop", self.code) else 0.6
        if self.rng.random() > often:
            return self._brings_back(family)
        wanted = round(expected / often * self.rng.uniform(0.6, 1.4))
        chosen = pick(self.rng, wanted)
        if slow := self.plan.of("slow_stock", self.code):
            chosen[slow.item] //= 3
        taken = Counter({item: self.stockroom.take(item, n) for item, n in chosen.items()})
        if self.rng.random() < 0.05:
            taken[GIVEN] += self.rng.randint(1, 3)
        return taken

    def _brings_back(self, family: Family) -> Counter[str]:
        if self.week < 4 or self.rng.random() > 0.08 or not family.held:
            return Counter()
        item, count = max(family.held.items(), key=lambda pair: (pair[1], pair[0]))
        if item == GIVEN or count < 3:
            return Counter()
        back = self.rng.randint(1, 2)
        self.stockroom.put(item, back)
        return Counter({item: -back})

    def _collect(self, family: Family, packages: Counter[str]) -> None:
        """Adds what was ordered online for this family to bring by hand, as far as it is there."""
        for item, count in list(family.to_collect.items()):
            taken = self.stockroom.take(item, count)
            family.to_collect[item] -= taken
            packages[item] += taken
        family.to_collect = +family.to_collect

    def _troubled_takes(self, selling: list[Family], chosen: dict[str, Counter[str]]) -> None:
        code, stockroom = self.code, self.stockroom
        if trouble := self.plan.at("unregistered_seller", code, self.week):
            stranger = stockroom.families.setdefault(trouble.participant, Family(trouble.participant, None))
            item = stockroom.fullest()
            chosen[stranger.code] = Counter({item: stockroom.take(item, trouble.number)})
        if not selling:
            return
        if trouble := self.plan.at("about_to_run_out", code, self.week):
            wanted = stockroom.on_hand[trouble.item] - 2
            for k in range(max(0, wanted)):
                chosen[selling[k % len(selling)].code][trouble.item] += stockroom.take(trouble.item, 1)

    def _unpaying(self, selling: list[Family]) -> set[str]:
        unpaying = set()
        if trouble := self.plan.since("families_behind", self.code, self.week):
            largest = sorted(selling, key=lambda family: (-family.goal, family.code))
            unpaying |= {family.code for family in largest[: trouble.number]}
        if trouble := self.plan.of("leaver_with_debt", self.code):
            unpaying.add(trouble.participant)
        if trouble := self.plan.since("changed_troops", self.code, self.week):
            unpaying.add(trouble.participant)
        if trouble := self.plan.at("household", self.code, self.week):
            unpaying.add(sibling(trouble.participant))
        return unpaying

    def _pays(self, family: Family, row: FamilyRow) -> None:
        rng = self.rng
        overpaid = self.plan.at("family_overpaid", self.code, self.week)
        together = self.plan.at("household", self.code, self.week)
        if overpaid and overpaid.participant == family.code:
            row.cash = max(0, family.charged - family.paid) + overpaid.number
        elif together and together.participant == family.code:
            other = self.stockroom.families.get(sibling(family.code), family)
            row.cash = max(0, family.owes + (other.owes if other is not family else 0))
        elif family.owes < 0 and not family.online:
            self._refund(family, row)
        elif family.owes > 0 and rng.random() < self._readiness(family):
            self._hands_in(family, row)
        family.paid += row.cash + row.card
        family.weeks_unpaid = family.weeks_unpaid + 1 if family.old_debt > 0 and not row.cash + row.card else 0
        if min(family.old_debt, family.owes) > 4000 and not row.cash + row.card and rng.random() < 0.02:
            self._settles_otherwise(family)

    def _readiness(self, family: Family) -> float:
        """How likely a family pays this week: mostly, and surely after two weeks without."""
        if (low := self.plan.of("bank_may_not_cover", self.code)) and self.week > low.week - 3:
            return 0.4
        return 1.0 if family.weeks_unpaid >= 2 else 0.7

    def _hands_in(self, family: Family, row: FamilyRow) -> None:
        """A payment: the old debt to the cent, a round sum of it, or all that is owed."""
        old, way = min(max(0, family.old_debt), family.owes), self.rng.random()
        last_weeks = self.week >= self.season.weeks - 1
        if way < 0.25 or last_weeks or family.weeks_unpaid >= 2:
            amount = family.owes
        elif way < 0.45 and old > 2000:
            amount = old // 500 * 500
        else:
            amount = old
        if self.rng.random() < 0.3:
            row.card = amount
        else:
            row.cash = amount
            row.note = "cheque" if amount and self.rng.random() < 0.12 else ""

    def _refund(self, family: Family, row: FamilyRow) -> None:
        back = -family.owes
        if self.refunded + back <= self.stockroom.cash:
            self.refunded += back
            row.cash = -back
            row.note = "money back for packages brought back"

    def _settles_otherwise(self, family: Family) -> None:
        amount = min(family.old_debt, family.owes) // 100 * 100
        on = self.season.starts(self.week)
        reference = f"ADJ-{family.code}-{self.week}"
        reason = "the family paid the office directly"
        self.adjustments.append(Adjustment(reference, self.code, family.code, on, amount, reason, "area treasurer"))
        family.paid += amount
