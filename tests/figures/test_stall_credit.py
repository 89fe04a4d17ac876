"""Stalls shared by largest remainder: the library of apportionments, a published table, and the rule where it ties.

MUSTERBOOK_STALLS: how many random stalls are tried against the library (500 unless set).
"""

import os
import random
from datetime import date, time

import pytest
from apportionment.methods import TiesException, compute

from pipelines.figures.stall_credit import BY_LOT, FEWER, LARGER, drawn, largest_remainder

STALLS = int(os.environ.get("MUSTERBOOK_STALLS", "500"))
NAMES = [f"0417-{n:02}" for n in range(1, 10)]
NO_LOT = dict.fromkeys(NAMES, "")


def given(packages: int, weights: dict[str, int], had: dict[str, int] | None = None) -> dict[str, int]:
    lot = {who: drawn("Market", date(2027, 3, 6), time(9), who) for who in weights}
    return {who: share.packages for who, share in largest_remainder(packages, weights, had or {}, lot).items()}


def test_the_library_shares_alike_where_nothing_ties() -> None:
    dice = random.Random(7)  # noqa: S311 - dice for a test
    tried = 0
    while tried < STALLS:
        weights = {who: dice.randint(1, 240) for who in dice.sample(NAMES, dice.randint(1, 9))}
        packages = dice.randint(1, 300)
        try:
            expected = compute("largest_remainder", list(weights.values()), packages, tiesallowed=False, fractions=True)
        except (TiesException, ValueError):
            continue
        tried += 1
        assert [given(packages, weights)[who] for who in weights] == list(expected)


def test_a_published_table() -> None:
    """COMAP, For All Practical Purposes, 10th edition, table 14.5: the census of 1790, 120 seats."""
    people = (
        "630560 475327 432879 353523 331589 278514 236841 206236 179570 141822 85533 70835 68705 68446 55540"
    ).split()
    states = [f"S{n:02}" for n in range(len(people))]
    shares = given(120, dict(zip(states, map(int, people), strict=True)))
    assert [shares[one] for one in states] == [21, 16, 14, 12, 11, 9, 8, 7, 6, 5, 3, 2, 2, 2, 2]


def test_fifty_among_three() -> None:
    assert sorted(given(50, dict.fromkeys(NAMES[:3], 1)).values()) == [16, 17, 17]


def test_whoever_had_fewest_left_over_comes_first_among_equals() -> None:
    """Two packages are left over; two of the three had one more before."""
    had = {NAMES[0]: 2, NAMES[1]: 1, NAMES[2]: 1}
    shares = largest_remainder(50, dict.fromkeys(NAMES[:3], 1), had, NO_LOT)
    assert {who: (one.packages, one.why) for who, one in shares.items()} == {
        NAMES[0]: (16, ""), NAMES[1]: (17, FEWER), NAMES[2]: (17, FEWER),
    }  # fmt: skip


def test_the_lot_decides_last_and_is_the_same_each_time() -> None:
    """One package left over, nobody has had one: the smallest SHA-256 of place|date|start|participant."""
    lot = {who: drawn("Market", date(2027, 3, 6), time(9), who) for who in NAMES[:3]}
    shares = largest_remainder(49, dict.fromkeys(NAMES[:3], 1), {}, lot)
    (lucky,) = [who for who, one in shares.items() if one.why]
    assert lucky == min(lot, key=lot.__getitem__)
    assert shares[lucky].why == BY_LOT


def test_the_lot_is_the_digest_of_the_stall_and_the_participant() -> None:
    """As `sha256sum` gives it of Market|2027-03-06|09:00|0417-01."""
    assert drawn("Market", date(2027, 3, 6), time(9), "0417-01") == (
        "aa7edae684fa6353ea76d303d67b30c83e96fe116c1eb6b56d402291a1610f55"
    )


def test_minutes_weigh_and_a_larger_remainder_comes_before_everything() -> None:
    """10 packages by 90, 60 and 30 minutes: 5, 3 and 1 whole ones; the remainders are 0, 1/3 and 2/3."""
    shares = largest_remainder(10, {NAMES[0]: 90, NAMES[1]: 60, NAMES[2]: 30}, {NAMES[2]: 9}, NO_LOT)
    assert {who: (one.packages, one.why) for who, one in shares.items()} == {
        NAMES[0]: (5, ""), NAMES[1]: (3, ""), NAMES[2]: (2, LARGER),
    }  # fmt: skip


@pytest.mark.parametrize("packages", [1, 2, 7, 50])
def test_nothing_is_lost(packages: int) -> None:
    assert sum(given(packages, dict.fromkeys(NAMES, 1)).values()) == packages
