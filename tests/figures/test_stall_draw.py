"""The draw of slots: small cases by hand, random wishes held against what a draw must keep, first come as a yardstick.

MUSTERBOOK_DRAWS: how many random draws are tried (1,000 unless said).
"""

import os
import random
from statistics import mean

import pytest

from pipelines.figures.stall_draw import Slot, by_lot, draw, spread, values_of

DRAWS = int(os.environ.get("MUSTERBOOK_DRAWS", "1000"))


def random_wishes(dice: random.Random) -> tuple[dict[str, list[str]], list[Slot]]:
    """Up to 12 troops, up to 25 slots of which some are prime and some have a history, and slots that are not free."""
    slots = [
        Slot(f"S{n:02}", dice.random() < 0.3, dice.choice([None, None, 0.0, 80.0, 120.5, 300.0]))
        for n in range(dice.randint(1, 25))
    ]
    codes = [one.code for one in slots] + ["GONE"]
    troops = [f"{dice.randint(0, 9999):04}" for _ in range(dice.randint(1, 12))]
    return {troop: dice.choices(codes, k=dice.randint(0, 10)) for troop in troops}, slots


def first_come(wishes: dict[str, list[str]], slots: list[Slot], dice: random.Random) -> dict[str, float]:
    """What each troop gets where whoever comes first takes all that it wished."""
    values, free = values_of(slots), {one.code for one in slots}
    troops = list(wishes)
    dice.shuffle(troops)
    got = dict.fromkeys(wishes, 0.0)
    for troop in troops:
        mine = free & set(wishes[troop])
        got[troop] = sum(values[code] for code in mine)
        free -= mine
    return got


def test_what_every_draw_keeps() -> None:
    dice = random.Random(4711)  # noqa: S311 - dice for a test
    seen_waiting = 0
    for _ in range(DRAWS):
        wishes, slots = random_wishes(dice)
        number = dice.randint(1, 99)
        done = draw(number, wishes, slots)
        prime = {one.code for one in slots if one.is_prime}
        free = {one.code for one in slots}
        given = [one.slot for one in done.given]
        assert len(given) == len(set(given))
        assert all(one.slot in wishes[one.troop] and one.slot in free for one in done.given)
        assert not (free - set(given)) & {code for codes in wishes.values() for code in codes}
        has_prime: set[str] = set()
        for one in done.given:
            if one.slot in prime and one.troop in has_prime:
                could = {t for t in wishes if t not in has_prime and set(wishes[t]) & prime & free}
                assert not could, "a second prime slot while another troop could have had its first"
            skipped = [code for code in wishes[one.troop] if code in free][: wishes[one.troop].index(one.slot)]
            if one.slot != next(code for code in wishes[one.troop] if code in free):
                seen_waiting += 1
                assert one.troop in has_prime
                assert all(code in prime for code in skipped if wishes[one.troop].index(code) < one.rank - 1)
            if one.slot in prime:
                has_prime.add(one.troop)
            free.discard(one.slot)
        turned = {troop: wishes[troop] for troop in reversed(wishes)}
        assert draw(number, turned, slots[::-1]).given == done.given, "the order of rows changed the calendar"
    assert seen_waiting > DRAWS / 50


def test_rounds_go_from_the_least_value_to_the_most() -> None:
    dice = random.Random(7)  # noqa: S311
    for _ in range(DRAWS // 5):
        wishes, slots = random_wishes(dice)
        done = draw(3, wishes, slots)
        for number in range(2, max((one.round for one in done.given), default=0) + 1):
            sooner = [one for one in done.given if one.round < number]
            before = {troop: sum(done.values[one.slot] for one in sooner if one.troop == troop) for troop in wishes}
            in_turn = [one.troop for one in done.given if one.round == number]
            expected = sorted(in_turn, key=lambda troop: (round(before[troop], 9), by_lot(3, troop)))
            assert in_turn == expected


def test_it_is_more_even_than_first_come() -> None:
    """Over random wishes; a single draw may well be less even than one lucky order."""
    dice = random.Random(99)  # noqa: S311
    ours, theirs = [], []
    for number in range(200):
        wishes, slots = random_wishes(dice)
        done = draw(number, wishes, slots)
        plain = first_come(wishes, slots, dice)
        if len(wishes) > 2 and sum(plain.values()):
            ours.append(spread([done.value_of(troop) for troop in wishes]) or 0)
            theirs.append(spread(list(plain.values())) or 0)
    assert mean(ours) < 0.75 * mean(theirs)


def test_another_number_is_another_order() -> None:
    wishes = {f"{n:04}": ["A"] for n in range(8)}
    winners = {draw(number, wishes, [Slot("A")]).given[0].troop for number in range(40)}
    assert len(winners) > 4


def test_two_troops_by_hand() -> None:
    """T1 comes first by number 7. Both want P1 most; the second round begins with who has less."""
    first, second = sorted(("0417", "0031"), key=lambda troop: by_lot(7, troop))
    wishes = {first: ["P1", "P2", "A"], second: ["P1", "B", "P2"]}
    slots = [Slot("P1", True), Slot("P2", True), Slot("A"), Slot("B")]
    done = draw(7, wishes, slots)
    told = [(one.slot, one.troop, one.round, one.rank) for one in done.given]
    assert told == [("P1", first, 1, 1), ("B", second, 1, 2), ("P2", second, 2, 3), ("A", first, 2, 3)]
    assert (done.value_of(first), done.value_of(second)) == (3, 3)


def test_what_a_slot_is_worth() -> None:
    assert values_of([Slot("A"), Slot("B", True)]) == {"A": 1, "B": 2}
    known = [Slot("A", takings=100), Slot("B", True, 300), Slot("C", takings=150), Slot("D", True)]
    assert values_of(known) == {"A": 100 / 150, "B": 2, "C": 1, "D": 2}


@pytest.mark.parametrize(
    ("values", "gini"), [([1, 1, 1], 0), ([0, 0, 4], 2 / 3), ([1, 3], 0.25), ([0, 0], None), ([], None)]
)
def test_how_even_it_is(values: list[float], gini: float | None) -> None:
    assert spread(values) == (pytest.approx(gini) if gini is not None else None)
