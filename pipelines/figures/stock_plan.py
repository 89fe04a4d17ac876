"""What to fetch and what to move: first packages that nobody needs go to troops that lack them, then whole cases.

Comes in: for each troop and item what it has, what orders already paid still need, what will probably go out (soon, and
by the season's end, each a mean and a variance), what a package earns and what one unsold costs. Goes out: moves by
drive, cases to fetch or to hand back. All counts are whole; the same rows give the same plan.

How much to fetch is a newsvendor's question asked case by case (Snyder and Shen, Fundamentals of Supply Chain Theory,
4.3), gated by what the weeks until the next fetch may take. What to move is a fixed-charge transportation problem,
solved by HiGHS through scipy.optimize.milp: each town for itself, then pairs of different towns with what is left. It
is a proposal, never an order, and it knows of no distances and no diaries.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations

import numpy as np

from pipelines.figures.outlook import Floats, quantile

WITHIN, BETWEEN = 3, 12  # packages that a drive within a town, and one between towns, must be worth
PAID_WEIGHS = 2  # a package that is paid for counts so much on top
TIE = 0.4  # of a package: what all ties together may weigh
MOST_PAIRS, MOST_TURNS = 30, 20
NEARLY_ALL = 0.9
SPARE_PERCENT = 10  # of each item that a troop keeps for itself, unless said


@lru_cache(16_384)  # a cell asks for the same few again and again
def _enough(chance: float, mean: float, variance: float) -> int:
    return int(quantile(chance, np.array(mean), np.array(variance)))


@dataclass(frozen=True)
class Demand:
    """Packages that go out: negative binomial with a mean and a variance, but never fewer than `needed`."""

    mean: float
    variance: float
    needed: int = 0

    def quantile(self, chance: float) -> int:
        """The smallest whole number of packages that is enough so often."""
        if chance <= 0:
            return self.needed
        return max(self.needed, _enough(chance, self.mean, self.variance))

    def at_least(self, packages: Floats) -> Floats:
        """The chances that so many or more go out."""
        from scipy.special import betainc  # noqa: PLC0415 - only who computes measures waits for it

        if self.mean <= 0:
            return np.where(packages <= max(self.needed, 0), 1.0, 0.0)
        wide = max(self.variance, 1.0001 * self.mean + 1e-9)
        below = betainc(self.mean**2 / (wide - self.mean), np.maximum(packages, 1), self.mean / wide)
        return np.where(packages <= max(self.needed, 0), 1.0, 1 - below)


@dataclass(frozen=True)
class Cell:
    """One troop and item. `gain`: what a package sold earns; `unsold`: what one left over costs; `case`: packages."""

    troop: str
    item: str
    have: int
    soon: Demand
    end: Demand
    gain: float
    unsold: float
    case: int
    least_ratio: float = 0.20
    spare_percent: int = SPARE_PERCENT

    @property
    def needed(self) -> int:
        return self.end.needed

    @property
    def counted_unsold(self) -> float:
        """What a package left over costs, as far as it counts: a troop that earns little must not stop fetching."""
        return min(self.unsold, self.gain * (1 / self.least_ratio - 1)) if self.gain > 0 else self.unsold

    @property
    def ratio(self) -> float:
        """The part of such cases in which a package should still be there to be sold (the critical ratio)."""
        if self.gain <= 0:
            return 0.0
        return self.gain / (self.gain + self.counted_unsold)

    @property
    def soon_enough(self) -> int:
        """Packages that are enough, nine times of ten, until the goods of the next fetch are there."""
        return self.soon.quantile(NEARLY_ALL)

    @property
    def surplus(self) -> int:
        """Packages that it can give: beyond what goes out nine times of ten, and beyond what it keeps for itself."""
        kept = -(-self.have * self.spare_percent // 100)
        return max(0, min(self.have - self.end.quantile(NEARLY_ALL), self.have - kept))

    @property
    def short(self) -> int:
        """Packages that it lacks to have enough until the next fetch, as far as they will probably pay."""
        wanted = self.soon_enough if self.ratio >= 1 else max(self.needed, self.end.quantile(self.ratio))
        return max(0, min(self.soon_enough, wanted) - self.have)

    @property
    def paid(self) -> int:
        """Of the packages it lacks, those that are paid for already."""
        return min(self.short, max(0, self.needed - self.have))

    def worth(self, packages: int, unsold: float | None = None) -> float:
        """What one case on top of so many packages will probably earn, less what it will probably leave over."""
        return float(self._worths(packages, 1, unsold)[0])

    def _worths(self, packages: int, cases: int, unsold: float | None = None) -> Floats:
        """What each of some cases on top of so many packages is worth, (cases)."""
        there = packages + np.arange(1, cases * self.case + 1, dtype=np.float64)
        sold = self.end.at_least(there)
        costs = self.counted_unsold if unsold is None else unsold
        return np.asarray((self.gain * sold - costs * (1 - sold)).reshape(cases, self.case).sum(axis=1))

    def cases(self, have: int) -> int:
        """Whole cases to fetch, for a troop that has so many packages after the moves: up to the first not worth it."""
        most = max(0, -(-(self.soon_enough - have) // self.case))
        is_needed = have + np.arange(most) * self.case < self.needed
        return int(np.append(is_needed | (self._worths(have, most) > 0), [False]).argmin())

    def cases_back(self, have: int) -> int:
        """Whole cases to hand back, on the last occasion for it."""
        cases = 0
        while (left := have - (cases + 1) * self.case) >= max(self.needed, 0) and self.worth(left) < 0:
            cases += 1
        return cases


@dataclass(frozen=True, order=True)
class Move:
    """Packages from one troop to another."""

    giver: str
    receiver: str
    item: str
    packages: int


@dataclass
class Moves:
    """The moves of a plan, what they are worth (in packages), and whether no better plan can be."""

    moves: list[Move] = field(default_factory=list)
    worth: int = 0
    is_proven: bool = True

    @property
    def drives(self) -> list[tuple[str, str]]:
        """The pairs of troops between which somebody drives, in order."""
        return sorted({tuple(sorted((one.giver, one.receiver))) for one in self.moves})  # type: ignore[misc]


Amounts = dict[tuple[str, str], int]
Pair = tuple[str, str]


def moves(surplus: Amounts, short: Amounts, paid: Amounts, towns: Mapping[str, str]) -> Moves:
    """The best moves between troops: in each town for itself, then between towns with what is left.

    The amounts are packages by troop and item. A troop without a town is alone in one; where none has one, all are in
    one.
    """
    left, lacks, owed = dict(surplus), dict(short), dict(paid)
    troops = sorted({troop for troop, _item in (*surplus, *short)})
    home = {t: (towns.get(t) or t) if any(towns.get(one) for one in troops) else "" for t in troops}
    together: dict[str, list[str]] = defaultdict(list)
    for troop in troops:
        together[home[troop]].append(troop)
    made = Moves()
    for town in sorted(together):
        _stage(made, list(combinations(together[town], 2)), WITHIN, (left, lacks, owed))
    apart = [pair for pair in combinations(troops, 2) if home[pair[0]] != home[pair[1]]]
    _stage(made, apart, BETWEEN, (left, lacks, owed))
    made.moves.sort()
    return made


def _stage(made: Moves, pairs: Sequence[Pair], drive: int, amounts: tuple[Amounts, Amounts, Amounts]) -> None:
    """Adds the best moves between some pairs, and takes them off what is there and what lacks."""
    left, lacks, owed = amounts
    for turn in range(MOST_TURNS):
        candidates = _candidates(pairs, drive, amounts)
        if not candidates:
            return
        is_cut = len(candidates) > MOST_PAIRS
        if is_cut:
            made.is_proven = False
            candidates = dict(sorted(candidates.items(), key=lambda one: (-one[1], one[0]))[:MOST_PAIRS])
        elif turn:
            made.is_proven = False  # what an earlier turn took might have served better
        chosen = _drives(sorted(candidates), drive, amounts)
        found = [one for item in _items(amounts) for one in _flows(item, chosen, amounts)]
        used = {pair for pair in chosen if any({one.giver, one.receiver} == set(pair) for one in found)}
        if not used:
            return
        for one in found:
            to = (one.receiver, one.item)
            of_paid = min(owed.get(to, 0), one.packages)
            made.worth += one.packages + PAID_WEIGHS * of_paid
            left[one.giver, one.item] -= one.packages
            lacks[to] -= one.packages
            owed[to] = owed.get(to, 0) - of_paid
        made.worth -= drive * len(used)
        made.moves += found
        if not is_cut:
            return


def _items(amounts: tuple[Amounts, Amounts, Amounts]) -> list[str]:
    return sorted({item for (_troop, item), packages in amounts[1].items() if packages > 0})


def _candidates(pairs: Iterable[Pair], drive: int, amounts: tuple[Amounts, Amounts, Amounts]) -> dict[Pair, int]:
    """Pairs that could move more than a drive is worth, and how much."""
    left, lacks, owed = amounts
    items = _items(amounts)
    found = {}
    for pair in pairs:
        could = 0
        for giver, receiver in (pair, pair[::-1]):
            for item in items:
                most = min(left.get((giver, item), 0), lacks.get((receiver, item), 0))
                could += most + PAID_WEIGHS * min(most, owed.get((receiver, item), 0))
        if could > drive:
            found[pair] = could
    return found


def _arcs(pairs: Iterable[Pair], item: str, amounts: tuple[Amounts, Amounts, Amounts]) -> list[Pair]:
    """Who could give an item to whom along some pairs, sorted."""
    left, lacks, _owed = amounts
    return sorted(
        arc for pair in pairs for arc in (pair, pair[::-1])
        if left.get((arc[0], item), 0) > 0 and lacks.get((arc[1], item), 0) > 0
    )  # fmt: skip


def _drives(pairs: list[Pair], drive: int, amounts: tuple[Amounts, Amounts, Amounts]) -> list[Pair]:
    """The pairs between which to drive; of equal plans the one with the lowest sum of places in the list."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - only who plans waits for it
    from scipy.sparse import lil_array  # noqa: PLC0415

    left, lacks, owed = amounts
    arcs = [(item, arc) for item in _items(amounts) for arc in _arcs(pairs, item, amounts)]
    takers = sorted({(arc[1], item) for item, arc in arcs})
    givers = sorted({(arc[0], item) for item, arc in arcs})
    several, many = len(pairs), len(arcs)
    width = several + many + len(takers)
    places = sum(range(1, several + 1))
    cost = np.array([*(drive + TIE * place / places for place in range(1, several + 1)),
                     *[-1.0] * many, *[-float(PAID_WEIGHS)] * len(takers)])  # fmt: skip
    high = np.array([*[1.0] * several, *(min(left[arc[0], item], lacks[arc[1], item]) for item, arc in arcs),
                     *(owed.get(one, 0) for one in takers)])  # fmt: skip
    rows = lil_array((len(givers) + 2 * len(takers) + many, width))
    most = np.zeros(rows.shape[0])
    for place, one in enumerate(givers):
        most[place] = left[one]
    for place, one in enumerate(takers):
        most[len(givers) + place] = lacks[one]
        rows[len(givers) + len(takers) + place, several + many + place] = 1  # what is paid is at most what comes
    first = len(givers) + 2 * len(takers)
    index = {pair: place for place, pair in enumerate(pairs)}
    for place, (item, (giver, receiver)) in enumerate(arcs):
        at = several + place
        rows[givers.index((giver, item)), at] = 1
        rows[len(givers) + takers.index((receiver, item)), at] = 1
        rows[len(givers) + len(takers) + takers.index((receiver, item)), at] = -1
        rows[first + place, at] = 1
        rows[first + place, index[min(giver, receiver), max(giver, receiver)]] = -high[at]
    done = milp(cost, integrality=np.array([1] * several + [0] * (width - several)), bounds=Bounds(0, high),
                constraints=LinearConstraint(rows.tocsr(), -np.inf, most), options={"mip_rel_gap": 0})  # fmt: skip
    return [pair for pair, is_driven in zip(pairs, done.x[:several], strict=True) if is_driven > 0.5]


def _flows(item: str, pairs: list[Pair], amounts: tuple[Amounts, Amounts, Amounts]) -> list[Move]:
    """One item's moves along the pairs chosen: arc by arc in order, each as much as keeps the item's worth."""
    left, lacks, owed = ({troop: n for (troop, one), n in each.items() if one == item and n > 0} for each in amounts)
    arcs = _arcs(pairs, item, amounts)
    found = []
    for place, (giver, receiver) in enumerate(arcs):
        best, rest = _most(arcs[place:], left, lacks, owed), arcs[place + 1 :]
        for packages in range(min(left[giver], lacks[receiver]), -1, -1):
            of_paid = min(packages, owed.get(receiver, 0))
            after = (left | {giver: left[giver] - packages}, lacks | {receiver: lacks[receiver] - packages},
                     owed | {receiver: owed.get(receiver, 0) - of_paid})  # fmt: skip
            if packages + PAID_WEIGHS * of_paid + _most(rest, *after) == best:
                break
        left, lacks, owed = after
        if packages:
            found.append(Move(giver, receiver, item, packages))
    return found


def _most(arcs: list[Pair], left: dict[str, int], lacks: dict[str, int], owed: dict[str, int]) -> int:
    """The most that can be moved along arcs, packages that are paid for counting on top.

    Both can be had at once: more flow to a taker never takes any away from another.
    """
    return _flow(arcs, left, lacks) + PAID_WEIGHS * _flow(arcs, left, owed)


def _flow(arcs: list[Pair], supply: dict[str, int], demand: dict[str, int]) -> int:
    """The largest flow from givers to takers along arcs."""
    from scipy.sparse import csr_array  # noqa: PLC0415 - only who plans waits for it
    from scipy.sparse.csgraph import maximum_flow  # noqa: PLC0415

    arcs = [(g, r) for g, r in arcs if supply.get(g, 0) > 0 and demand.get(r, 0) > 0]
    if not arcs:
        return 0
    givers, takers = sorted({g for g, _r in arcs}), sorted({r for _g, r in arcs})
    of = {("g", one): 1 + place for place, one in enumerate(givers)}
    of |= {("r", one): 1 + len(givers) + place for place, one in enumerate(takers)}
    end = 1 + len(givers) + len(takers)
    edges = [(0, of["g", one], supply[one]) for one in givers] + [(of["r", one], end, demand[one]) for one in takers]
    edges += [(of["g", g], of["r", r], min(supply[g], demand[r])) for g, r in arcs]
    start, stop, room = (np.array(each, dtype=np.int32) for each in zip(*edges, strict=True))
    return int(maximum_flow(csr_array((room, (start, stop)), shape=(end + 1, end + 1)), 0, end).flow_value)


@dataclass(frozen=True)
class Fetch:
    """Whole cases for a troop: to fetch, or (negative) to hand back; `worth`: of the next case, were it fetched too."""

    troop: str
    item: str
    cases: int
    have: int
    soon: int
    worth: float


def plan(
    cells: Sequence[Cell], towns: Mapping[str, str], *, may_order: bool = True, hands_back: bool = False
) -> tuple[Moves, list[Fetch]]:
    """The moves, then what is to be fetched with them done; `hands_back`: it is the last occasion for that."""
    surplus, short, paid = ({(one.troop, one.item): getattr(one, name) for one in cells}
                            for name in ("surplus", "short", "paid"))  # fmt: skip
    moved = moves(surplus, short, paid, towns)
    have = {(one.troop, one.item): one.have for one in cells}
    for move in moved.moves:
        have[move.giver, move.item] -= move.packages
        have[move.receiver, move.item] += move.packages
    fetched = []
    for one in sorted(cells, key=lambda one: (one.troop, one.item)):
        there = have[one.troop, one.item]
        cases = one.cases(there) if may_order else 0
        if hands_back and not cases:
            cases = -one.cases_back(there)
        if cases:
            worth = one.worth(there + max(cases, 0) * one.case)
            fetched.append(Fetch(one.troop, one.item, cases, there, one.soon_enough, worth))
    return moved, fetched
