"""Loads and slots of the day of delivery: worked examples, everything tried on small ones, and published yardsticks.

Bin packing: the sample of the OR-Tools manual (inputs from a stored page, its answer from memory; 4 is the least, since
370 do not go into 3 of 100). List scheduling: Graham 1969, the list that ends at 11 where 9 is the best (source from
memory; 9 by everything tried).
"""

from decimal import Decimal
from fractions import Fraction
from itertools import product
from random import Random

import pytest

from pipelines.figures.delivery import Load, delivery_day, loads, slots


def named(sizes: list[int]) -> dict[str, int]:
    return {f"{place:02d}": size for place, size in enumerate(sizes)}


@pytest.mark.parametrize(
    ("orders", "room", "used", "least"),
    [
        ([44, 24, 24, 22, 21, 17, 8, 8, 6, 6], [60] * 5, 3, 3),
        ([70, 24, 24, 22], [60, 40, 25, 25, 25], 4, 4),
        ([48, 30, 19, 36, 36, 27, 42, 42, 36, 24, 30], [100] * 11, 4, 4),
        ([], [60], 0, 0),
    ],
)
def test_worked_loads(orders: list[int], room: list[int], used: int, least: int) -> None:
    """An order above the largest vehicle fills it first; every case is on a vehicle, none carries more than it can."""
    found = loads(named(orders), named(room))
    assert (len(found.vehicles), found.least, found.fits) == (used, least, True)
    for name, cases in found.vehicles.items():
        assert cases <= named(room)[name]
    for troop, cases in named(orders).items():
        assert sum(one.cases for one in found.loads if one.troop == troop) == cases


def test_what_does_not_fit_is_said() -> None:
    """Two orders of 30 into one vehicle of 40."""
    assert (loads(named([30, 30]), named([40])).fits, loads(named([30, 30]), named([40])).loads) == (False, ())


def fewest(orders: list[int], room: list[int]) -> int | None:
    """The least number of vehicles, every placing tried."""
    best = None
    for placing in product(range(len(room)), repeat=len(orders)):
        left = list(room)
        for size, vehicle in zip(orders, placing, strict=True):
            left[vehicle] -= size
        if min(left) >= 0:
            best = min(best or 99, len(set(placing)))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_everything_tried(seed: int) -> None:
    dice = Random(seed)  # noqa: S311 - no secret
    room = sorted((dice.randint(10, 30) for _ in range(4)), reverse=True)
    orders = [dice.randint(1, min(14, room[0])) for _ in range(6)]
    found, best = loads(named(orders), named(room)), fewest(orders, room)
    assert found.fits == (best is not None)
    if best is not None:
        assert (len(found.vehicles), found.least) == (best, best)


def test_worked_slots() -> None:
    """Two doors, ten minutes a vehicle and half a minute a case: all are loaded after an hour."""
    made = slots({"a": 60, "b": 44, "c": 25, "d": 20}, 2, Decimal(10), Decimal("0.5"))
    assert [(one.vehicle, one.door, str(one.begins), str(one.ends)) for one in made] == [
        ("a", 1, "0", "40.0"), ("b", 2, "0", "32.0"), ("c", 2, "32.0", "54.5"), ("d", 1, "40.0", "60.0"),
    ]  # fmt: skip


def test_grahams_list() -> None:
    sizes = [5, 5, 4, 4, 3, 3, 3]
    made = slots(named(sizes), 3, Decimal(0), Decimal(1))
    best = min(
        max(sum(size for size, at in zip(sizes, doors, strict=True) if at == door) for door in range(3))
        for doors in product(range(3), repeat=len(sizes))
    )
    assert (max(one.ends for one in made), best) == (11, 9)
    assert (Fraction(4, 3) - Fraction(1, 9)) * best >= 11


def test_packages_that_fill_no_case_are_told() -> None:
    """Six cases of GLA, five of SUN; seven packages of one troop are in no case."""
    orders = {
        ("01", "GLA"): 36,
        ("01", "SUN"): 20,
        ("02", "GLA"): 24,
        ("03", "GLA"): 12,
        ("03", "SUN"): 30,
        ("04", "GLA"): 7,
    }
    cases = {"GLA": 12, "SUN": 10}
    terms = [
        {"troop": troop, "item": item, "ordered": packages, "packages_per_case": cases[item]}
        for (troop, item), packages in orders.items()
    ]
    made = delivery_day(terms, {"van": 20}, 1, Decimal(10), Decimal(1))
    assert made.cases == {"GLA": 6, "SUN": 5}
    assert [(one.troop, one.item, one.loose) for one in made.loose] == [("04", "GLA", 7)]
    assert made.loads.loads == (Load("van", "01", 5), Load("van", "02", 2), Load("van", "03", 4))
