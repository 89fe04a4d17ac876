"""What a troop has at hand while the season goes on: its packages, its cash, and how each family stands with it.

Comes in: a troop of the area. Goes out: a Stockroom, which the modules that make a week take from and put into.
"""

from collections import Counter
from dataclasses import dataclass, field
from random import Random

from demo_warehouse.area import Participant, Troop
from demo_warehouse.records import OWN_PAGE
from demo_warehouse.season import CENTS, STOCKED


def worth(packages: dict[str, int]) -> int:
    """What packages cost, in cents."""
    return sum(CENTS[item] * count for item, count in packages.items())


@dataclass(slots=True)
class Family:
    """How one family stands: `old_debt` is what it owed when the week began, all money in cents."""

    code: str
    participant: Participant | None
    charged: int = 0
    paid: int = 0
    online: int = 0
    old_debt: int = 0
    weeks_unpaid: int = 0
    held: Counter[str] = field(default_factory=Counter)
    to_collect: Counter[str] = field(default_factory=Counter)

    @property
    def owes(self) -> int:
        """Charged less paid, however it was paid; negative where it paid ahead."""
        return self.charged - self.paid - self.online

    @property
    def goal(self) -> int:
        """The participant's goal in packages; 0 where there is none."""
        return self.participant.goal if self.participant else 0

    @property
    def appetite(self) -> float:
        """Packages that the family takes in a whole season, about."""
        return self.participant.appetite if self.participant else 0.0


@dataclass(slots=True)
class Agenda:
    """What an online order does to a family in a week to come."""

    family: Family
    paid_online: int = 0
    to_collect: dict[str, int] = field(default_factory=dict)


class Stockroom:
    """One troop's packages, cash, families and what is still to come."""

    def __init__(self, troop: Troop) -> None:
        self.troop = troop
        self.code = troop.code
        self.on_hand: Counter[str] = Counter()
        self.seen: set[str] = set()  # items that the troop ever had
        self.sold: list[Counter[str]] = []  # a week each, newest last
        self.to_exchange: Counter[str] = Counter()
        self.cash = 0
        self.documents = 0
        self.slips = 0
        self.orders = 0
        self.agenda: dict[int, list[Agenda]] = {}
        self.own_page = Family(OWN_PAGE, None)
        self.families = {person.code: Family(person.code, person) for person in troop.participants}

    def put(self, item: str, packages: int) -> None:
        """Packages come in."""
        self.on_hand[item] += packages
        self.seen.add(item)

    def take(self, item: str, wanted: int) -> int:
        """Packages go out, at most those that are there; an item that nobody stocks is always there."""
        if item not in _STOCKED_CODES:
            return wanted
        taken = min(wanted, self.on_hand[item])
        self.on_hand[item] -= taken
        return taken

    def sell(self, packages: dict[str, int]) -> None:
        """Keeps what a week sold, for the next fetch from the depot."""
        self.sold[-1].update(packages)

    def fullest(self) -> str:
        """The item with most packages on hand."""
        return max((item.code for item in STOCKED), key=lambda code: self.on_hand[code])

    def selling(self, week_ends_ordinal: int) -> list[Family]:
        """The families that sell now: taking part, registered by the week's end, not gone before it."""
        return [family for family in self.families.values() if _sells(family.participant, week_ends_ordinal)]


_STOCKED_CODES = {item.code for item in STOCKED}
_POPULARITY = [item.popularity for item in STOCKED]
_CODES = [item.code for item in STOCKED]


def pick(rng: Random, packages: int) -> Counter[str]:
    """So many packages spread over one to five items, the popular ones more often."""
    kinds = max(1, min(5, packages // 2))
    chosen: Counter[str] = Counter()
    items = rng.choices(_CODES, _POPULARITY, k=kinds)
    for k, item in enumerate(items):
        chosen[item] += packages // kinds + (1 if k < packages % kinds else 0)
    return chosen


def _sells(person: Participant | None, week_ends_ordinal: int) -> bool:
    if person is None or not person.is_active or person.registered_on.toordinal() > week_ends_ordinal:
        return False
    return person.left_on is None or person.left_on.toordinal() > week_ends_ordinal
