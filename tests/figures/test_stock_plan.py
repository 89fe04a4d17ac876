"""The stock plan: worked numbers, every set of drives tried on small areas, published optima, and what a book shows.

Newsvendor: Snyder and Shen, Fundamentals of Supply Chain Theory, example 4.3 (inputs and answer from memory, seen again
with scipy.stats and with the library stockpyl). Transportation: Winston's Powerco (inputs from a stored page, optimum
from memory); Dantzig's problem as the manuals of GAMS and GLPK print it.
"""

from functools import cache
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.stats import nbinom, norm

from pipelines.figures.stock_plan import BETWEEN, PAID_WEIGHS, WITHIN, Amounts, Cell, Demand, Move, moves, plan

TOWNS = {"01": "Ash", "02": "Ash", "03": "Ash", "04": "Elm", "05": "Elm", "06": "Oak"}
SURPLUS = {("01", "GLA"): 10, ("02", "GLA"): 6, ("02", "SUN"): 9, ("04", "SUN"): 20, ("05", "GLA"): 2}
SHORT = {("03", "GLA"): 12, ("03", "SUN"): 4, ("01", "SUN"): 5, ("06", "SUN"): 18}
BEST = [
    Move("01", "03", "GLA", 10), Move("02", "01", "SUN", 5), Move("02", "03", "GLA", 2), Move("02", "03", "SUN", 4),
    Move("04", "06", "SUN", 18),
]  # fmt: skip


def cell(have: int, gain: float, unsold: float, needed: int = 0, **more: float) -> Cell:
    """A troop of which soon 12 go out on average, and 40 by the season's end; cases of twelve."""
    soon, end = Demand(12, 120, needed), Demand(40, 700, needed)
    return Cell("A", "GLA", have, soon, end, gain, unsold, 12, **more)  # type: ignore[arg-type]


def test_quantiles_of_the_worked_cell() -> None:
    assert cell(5, 0.85, 6.15).soon_enough == 26
    assert [Demand(40, 700).quantile(chance) for chance in (0.1, 0.5, 0.9)] == [12, 34, 75]


@pytest.mark.parametrize(
    ("given", "ratio", "worth", "cases"),
    [
        ((5, 0.85, 6.15), 0.20, [5.410, -4.874], 1),
        ((14, 0.85, 6.15), 0.20, [-2.089], 0),
        ((5, 1.50, 3.50), 0.30, [12.365, 0.266, -12.386], 2),
        ((5, 0.85, 0.0), 1.0, [9.242, 7.185, 5.034], 2),  # the depot takes back; the weeks until then stop it
        ((5, 0.85, 6.15, 20), 0.20, [10.200, -2.161], 2),  # the second is paid for
        ((5, 0.0, 6.15), 0.0, [-6.931], 0),
    ],
)
def test_cases_to_fetch(given: tuple[float, ...], ratio: float, worth: list[float], cases: int) -> None:
    one = cell(*given)  # type: ignore[arg-type]
    assert one.ratio == pytest.approx(ratio)
    found = [one.worth(one.have + place * 12) for place in range(len(worth))]
    assert found == pytest.approx(worth, abs=5e-4)
    assert one.cases(one.have) == cases


@pytest.mark.parametrize(("given", "cases"), [((60, 0.85, 6.15), 4), ((60, 1.5, 3.5), 3), ((60, 0.85, 6.15, 30), 2)])
def test_cases_to_hand_back(given: tuple[float, ...], cases: int) -> None:
    assert cell(*given).cases_back(60) == cases  # type: ignore[arg-type]


def test_a_case_is_worth_what_a_library_says() -> None:
    """The newsvendor's sum, term by term, with scipy's own tail."""
    variance, mean = 700, 40
    tail = nbinom(mean**2 / (variance - mean), mean / variance)
    one = cell(5, 0.85, 6.15)
    by_hand = sum(0.85 * tail.sf(5 + j - 1) - one.counted_unsold * tail.cdf(5 + j - 1) for j in range(1, 13))
    assert one.worth(5) == pytest.approx(by_hand)


def test_single_packages_are_the_newsvendors_answer() -> None:
    """Holding 0.18, lacking 0.70, demand normal (50, 8): 56.603956 (Snyder and Shen 4.3). In single packages, with the
    negative binomial of this mean and variance, the last package that pays is where the tail meets the ratio."""
    assert norm(50, 8).ppf(0.70 / 0.88) == pytest.approx(56.603956, abs=1e-6)
    end = Demand(50, 64)
    one = Cell("A", "GLA", 0, Demand(400, 64), end, 0.70, 0.18, 1, least_ratio=0.01)
    assert one.cases(0) == end.quantile(0.70 / 0.88)


def test_the_worked_area() -> None:
    """Each town for itself, then between towns; the same moves where four are paid for, or without towns."""
    for paid, towns, worth in (({}, TOWNS, 18), ({("03", "SUN"): 4}, TOWNS, 26), ({}, {}, 27)):
        found = moves(SURPLUS, SHORT, paid, towns)
        assert (found.moves, found.worth, found.is_proven) == (BEST, worth, True)


def test_ties_and_drives_that_do_not_pay() -> None:
    """Of two givers the first gives; three packages are not worth a drive; both ways on one drive are."""
    assert moves({("01", "G"): 5, ("02", "G"): 5}, {("03", "G"): 5}, {}, {}).moves == [Move("01", "03", "G", 5)]
    assert moves({("01", "G"): 3}, {("02", "G"): 8}, {}, {}).moves == []
    both = moves({("01", "G"): 2, ("02", "H"): 2}, {("02", "G"): 2, ("01", "H"): 2}, {}, {})
    assert (both.worth, both.drives) == (1, [("01", "02")])


def best_worth(surplus: Amounts, short: Amounts, paid: Amounts, pairs: list[tuple[str, str]], drive: int) -> float:
    """The best of every set of pairs, each by a linear program of scipy."""

    @cache  # many sets of pairs give the same arcs of an item
    def worth_of(item: str, arcs: tuple[tuple[str, str], ...]) -> float:
        takers = sorted({receiver for _g, receiver in arcs})
        cost = [-1.0] * len(arcs) + [-float(PAID_WEIGHS)] * len(takers)
        rows, most = [], []
        for giver in {g for g, _r in arcs}:
            rows.append([float(a[0] == giver) for a in arcs] + [0.0] * len(takers))
            most.append(surplus[giver, item])
        for place, taker in enumerate(takers):
            comes = [float(a[1] == taker) for a in arcs]
            rows.append(comes + [0.0] * len(takers))
            most.append(short[taker, item])
            rows.append([-one for one in comes] + [float(place == other) for other in range(len(takers))])
            most.append(0)
        bounds = [(0, None)] * len(arcs) + [(0, paid.get((taker, item), 0)) for taker in takers]
        return -float(linprog(cost, rows, most, bounds=bounds).fun)

    best = 0.0
    items = sorted({item for _t, item in short})
    for count in range(len(pairs) + 1):
        for chosen in combinations(pairs, count):
            worth = -float(drive * count)
            for item in items:
                arcs = [a for p in chosen for a in (p, p[::-1]) if (a[0], item) in surplus and (a[1], item) in short]
                worth += worth_of(item, tuple(arcs)) if arcs else 0
            best = max(best, worth)
    return best


@pytest.mark.parametrize("seed", range(12))
def test_every_set_of_drives_tried(seed: int) -> None:
    """Five troops, two items, one town: no set of drives is worth more; nothing is given that is not there."""
    dice = np.random.default_rng(seed)
    troops = ["A", "B", "C", "D", "E"]
    surplus, short, paid = {}, {}, {}
    for troop in troops:
        for item in ("G", "H"):
            if dice.random() < 0.5:
                surplus[troop, item] = int(dice.integers(1, 12))
            else:
                short[troop, item] = int(dice.integers(1, 12))
                paid[troop, item] = int(dice.integers(0, short[troop, item] + 1)) if dice.random() < 0.4 else 0
    found = moves(surplus, short, paid, {})
    assert found.worth == pytest.approx(best_worth(surplus, short, paid, list(combinations(troops, 2)), WITHIN))
    for given, held, side in ((surplus, "giver", 0), (short, "receiver", 1)):
        for key, most in given.items():
            out = sum(m.packages for m in found.moves if (getattr(m, held), m.item) == key)
            assert out <= most, (key, side)
    assert found.moves == moves(dict(reversed(surplus.items())), dict(reversed(short.items())), paid, {}).moves


def test_powerco_and_dantzig_by_the_same_solver() -> None:
    """Least cost 1020 and 153.675: the solver that plans rest on, on published transportation problems."""
    for supply, demand, cost, least in (
        ([35, 50, 40], [45, 20, 30, 30], [[8, 6, 10, 9], [9, 12, 13, 7], [14, 9, 16, 5]], 1020),
        ([350, 600], [325, 300, 275], np.array([[2.5, 1.7, 1.8], [2.5, 1.8, 1.4]]) * 0.09, 153.675),
    ):
        many, several = np.shape(cost)
        gives = [[float(row == at // several) for at in range(many * several)] for row in range(many)]
        takes = [[-float(column == at % several) for at in range(many * several)] for column in range(several)]
        done = linprog(np.ravel(cost), gives + takes, [*supply, *(-one for one in demand)])
        assert done.fun == pytest.approx(least)


def test_moves_come_before_fetches() -> None:
    """The small area of the outlook, GLA, cases of twelve: B gives C six, then A fetches one case and C none."""
    spread = 0.416667**2 + 0.274095**2

    def demand(mean: float, needed: int = 0) -> Demand:
        return Demand(mean, 6 * mean + spread * mean**2, needed)

    level = {"A": 112.8883, "B": 32.1215, "C": 50.1615}  # a whole season of GLA
    cells = [
        Cell("A", "GLA", 8, demand(level["A"] * 0.4), demand(level["A"] * 0.4), 0.75, 6.25, 12),
        Cell("B", "GLA", 50, demand(level["B"] * 0.7), demand(level["B"] * 0.7), 0.75, 6.25, 12),
        Cell("C", "GLA", 0, demand(level["C"] * 0.4, 3), demand(level["C"] * 0.4, 3), 0.75, 6.25, 12),
    ]
    assert (cells[0].short, cells[1].surplus, cells[2].short, cells[2].paid) == (14, 6, 8, 3)
    moved, fetched = plan(cells, {"A": "Ash", "B": "Ash", "C": "Ash"})
    assert (moved.moves, moved.worth) == ([Move("B", "C", "GLA", 6)], 9)
    assert [(one.troop, one.cases) for one in fetched] == [("A", 1)]
    assert [(one.troop, one.cases) for one in plan([cells[0], cells[2]], {})[1]] == [("A", 1), ("C", 1)]
    assert plan(cells, {}, may_order=False)[1] == []


def test_a_troop_keeps_some_for_itself() -> None:
    """Ten of a hundred unless said, however few go out."""
    idle = Cell("A", "G", 50, Demand(0, 0), Demand(0, 0), 1, 1, 12)
    assert idle.surplus == 45
    assert Cell("A", "G", 50, Demand(0, 0), Demand(0, 0), 1, 1, 12, spare_percent=50).surplus == 25


def test_between_towns_a_drive_must_be_worth_more() -> None:
    apart = {"01": "Ash", "02": "Elm"}
    assert moves({("01", "G"): BETWEEN}, {("02", "G"): 50}, {}, apart).moves == []
    assert moves({("01", "G"): BETWEEN + 1}, {("02", "G"): 50}, {}, apart).worth == 1
