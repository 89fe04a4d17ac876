"""The draw of stall slots: who gets which, from what the troops wished, the same for the same number.

Comes in: each troop's wishes in order, the slots that are free, the draw's number. Goes out: what each troop got, in
which round and as which of its wishes; how even that is.

Rounds: in each, every troop in turn gets its highest wish that is still free. The first order is by SHA-256 of
`number|troop`; each later round goes from whoever has the least value so far to the most, ties by the draw. A troop
that has a prime slot gets no second one while another that wished for one has none and could still get one: it gets its
next other wish, or waits. A slot is worth the middle takings of a stall at its place, counted in those of the draw's
usual place; where nothing is known of a place, 1, and a prime slot 2.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

FROM_PLAIN, FROM_PRIME = 1.0, 2.0  # what a slot of a place without a history counts as


@dataclass(frozen=True, slots=True)
class Slot:
    """A slot that is free. `takings`: the middle takings of a stall at its place, None where too few are known."""

    code: str
    is_prime: bool = False
    takings: float | None = None


@dataclass(frozen=True, slots=True)
class Given:
    """A slot that a troop got: in which round, as the how-manieth of it, and which of its wishes it was (1 = first)."""

    slot: str
    troop: str
    round: int
    turn: int
    rank: int


@dataclass(frozen=True, slots=True)
class Draw:
    """One draw: what was given, in the order in which it was; the first order; what each slot is worth."""

    number: int
    order: tuple[str, ...]
    given: tuple[Given, ...]
    values: Mapping[str, float]

    def of(self, slot: str) -> Given | None:
        """Who got a slot."""
        return next((one for one in self.given if one.slot == slot), None)

    def value_of(self, troop: str) -> float:
        """What a troop got, in usual slots."""
        return sum(self.values[one.slot] for one in self.given if one.troop == troop)


def draw(number: int, wishes: Mapping[str, Sequence[str]], slots: Sequence[Slot]) -> Draw:
    """Gives the free slots to the troops that wished for them."""
    known = {one.code: one for one in slots}
    wanted = {troop: _once(codes, known) for troop, codes in wishes.items()}
    order = sorted((troop for troop in wanted if wanted[troop]), key=lambda troop: by_lot(number, troop))
    table = _Table(wanted, {code for code, one in known.items() if one.is_prime}, values_of(slots))
    this_round, done = order, 0
    while True:
        before = len(table.given)
        done += 1
        for turn, troop in enumerate(this_round, 1):
            table.serve(troop, done, turn)
        if len(table.given) == before:
            return Draw(number, tuple(order), tuple(table.given), table.values)
        this_round = sorted(order, key=lambda troop: (round(table.value[troop], 9), order.index(troop)))


def by_lot(number: int, troop: str) -> str:
    """By what the troops are put in order."""
    return hashlib.sha256(f"{number}|{troop}".encode()).hexdigest()


def values_of(slots: Sequence[Slot]) -> dict[str, float]:
    """What each slot counts as."""
    known = [one.takings for one in slots if one.takings]
    usual = median(known) if known else 1.0
    return {
        one.code: one.takings / usual if one.takings else FROM_PRIME if one.is_prime else FROM_PLAIN for one in slots
    }


def spread(values: Sequence[float]) -> float | None:
    """The Gini coefficient of what troops got: 0 where all got alike, towards 1 where one got all; None without any.

    Half the mean difference between two troops, over the mean (Gini 1912, in the form for a whole population).
    """
    total = sum(values)
    if not total:
        return None
    apart = sum(abs(one - other) for one in values for other in values)
    return apart / (2 * len(values) * total)


class _Table:
    """What is free and what each troop has, while the draw goes on."""

    def __init__(self, wanted: Mapping[str, Sequence[str]], prime: set[str], values: Mapping[str, float]) -> None:
        self.wanted, self.prime, self.values = wanted, prime, values
        self.free = set(values)
        self.value = dict.fromkeys(wanted, 0.0)
        self.has_prime: set[str] = set()
        self.given: list[Given] = []

    def serve(self, troop: str, number: int, turn: int) -> None:
        """Gives a troop its highest wish that is free and that it may have now."""
        for rank, code in enumerate(self.wanted[troop], 1):
            if code in self.free and not (code in self.prime and self._must_wait(troop)):
                self.free.discard(code)
                self.value[troop] += self.values[code]
                if code in self.prime:
                    self.has_prime.add(troop)
                self.given.append(Given(code, troop, number, turn, rank))
                return

    def _must_wait(self, troop: str) -> bool:
        """Whether a troop has a prime slot while another that wished for one could still get its first."""
        return troop in self.has_prime and any(
            other not in self.has_prime and any(code in self.prime and code in self.free for code in codes)
            for other, codes in self.wanted.items()
        )


def _once(codes: Sequence[str], known: Mapping[str, Slot]) -> tuple[str, ...]:
    """Wishes in order, each once, of slots that are free."""
    return tuple(code for code in dict.fromkeys(codes) if code in known)
