"""Lines of the bank beside rows of the book: the smallest cases, random books whose truth is known, brute force."""

import random
from datetime import date, timedelta
from itertools import permutations
from pathlib import Path
from time import process_time

import pyarrow as pa
import pytest
from trial import FEEDS, W1, W2, W3, Trial, accepted

from pipelines.figures.bank_matching import Entry, Pair, bank_pairs, matched
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.workflow import looking_back


def line(day: int, amount: str, words: str = "", kind: str = "") -> Entry:
    return Entry(day, round(float(amount) * 100), kind, words)


def row(day: int, amount: str, words: str = "", kind: str = "deposit") -> Entry:
    return Entry(day, round(float(amount) * 100), kind, words)


# One line and one row


@pytest.mark.parametrize(("days", "answers"), [(-2, False), (-1, True), (0, True), (5, True), (6, False)])
def test_a_line_lies_one_day_before_to_five_days_after(days: int, answers: bool) -> None:
    assert bool(matched([line(10 + days, "52.00")], [row(10, "52.00")])) is answers


@pytest.mark.parametrize(
    ("one", "other", "answers"),
    [
        (line(10, "52.01"), row(10, "52.00"), False),
        (line(10, "-52.00"), row(10, "52.00"), False),
        (line(10, "-52.00"), row(10, "-52.00", kind="collection"), True),
        (line(10, "-52.00", kind="remittance"), row(10, "-52.00", kind="collection"), True),
        (line(10, "-52.00", kind="fee"), row(10, "-52.00", kind="collection"), False),
        (line(10, "52.00", kind="card"), row(10, "52.00"), False),
        (line(30, "52.00", "COUNTER DEPOSIT 4711"), row(10, "52.00", "4711"), True),
        (line(30, "-52.00", "ref:R-0417-2 thanks"), row(10, "-52.00", "R-0417-2", "remittance"), True),
        (line(30, "52.00", "COUNTER DEPOSIT 47115"), row(10, "52.00", "4711"), False),
        (line(30, "52.00", "7 MAIN STREET"), row(10, "52.00", "7"), False),
        (line(30, "52.00", "CASH DEPOSIT"), row(10, "52.00", "cash"), False),
    ],
)
def test_what_answers_what(one: Entry, other: Entry, answers: bool) -> None:
    assert bool(matched([one], [other])) is answers


# Several


def test_the_least_sum_of_days_not_the_nearest_first() -> None:
    """The nearest first would take line 1 for row 1 (no day apart) and leave row 0 without any."""
    assert matched([line(12, "40"), line(17, "40")], [row(11, "40"), row(12, "40")]) == [(0, 0), (1, 1)]


def test_a_slip_outweighs_days() -> None:
    lines = [line(12, "40", "DEP 102"), line(13, "40", "DEP 101")]
    assert matched(lines, [row(12, "40", "101"), row(13, "40", "102")]) == [(0, 1), (1, 0)]


def test_ties_go_by_the_banks_order() -> None:
    assert matched([line(9, "40"), line(11, "40")], [row(10, "40")]) == [(0, 0)]
    assert matched([line(12, "40"), line(12, "40")], [row(11, "40"), row(11, "40")]) == [(0, 0), (1, 1)]
    assert matched([line(12, "40")], [row(11, "40"), row(11, "40")]) == [(0, 0)]


def test_up_to_four_deposits_in_one_line() -> None:
    four = [row(10, "10.01"), row(11, "20.02"), row(12, "40.04"), row(13, "80.08")]
    assert matched([line(14, "150.15")], four) == [(0, 0), (0, 1), (0, 2), (0, 3)]
    assert matched([line(14, "30.03")], four) == [(0, 0), (0, 1)]
    five = [*four, row(13, "160.16")]
    assert matched([line(14, "310.31")], five) == []


def test_not_where_two_choices_add_up() -> None:
    rows = [row(10, "10"), row(10, "30"), row(11, "15"), row(11, "25")]
    assert matched([line(12, "40")], rows) == []
    assert matched([line(12, "40")], rows[:3]) == [(0, 0), (0, 1)]


def test_not_beyond_seven_days() -> None:
    assert matched([line(16, "40")], [row(10, "10"), row(12, "30")]) == []
    assert matched([line(15, "40")], [row(10, "10"), row(12, "30")]) == [(0, 0), (0, 1)]


def test_two_lines_that_want_the_same_deposit_get_neither() -> None:
    rows = [row(10, "10"), row(10, "30"), row(10, "50")]
    assert matched([line(12, "40"), line(12, "80")], rows) == []


def test_a_line_that_is_sure_leaves_others_their_only_choice() -> None:
    """Line 1 has two choices until line 0 has taken the deposit of 10.00."""
    rows = [row(10, "10"), row(10, "31"), row(15, "30.50"), row(15, "10.50")]
    lines = [line(11, "41"), line(15, "41")]
    assert matched(lines, rows) == [(0, 0), (0, 1), (1, 2), (1, 3)]


# Random books


def best_by_brute_force(lines: list[Entry], rows: list[Entry]) -> tuple[int, int]:
    """Most pairs, and the least sum of days of so many, over every choice."""
    best = (0, 0)
    width = max(len(lines), len(rows))
    for order in permutations(range(width), len(lines)):
        chosen = [
            abs(lines[at].day - rows[to].day)
            for at, to in enumerate(order)
            if to < len(rows) and -1 <= lines[at].day - rows[to].day <= 5
        ]
        best = max(best, (len(chosen), -sum(chosen)))
    return best


def test_equal_amounts_lie_least_days_apart() -> None:
    dice = random.Random(5)  # noqa: S311
    for _ in range(400):
        lines = sorted(line(dice.randint(0, 12), "40") for _ in range(dice.randint(1, 6)))
        rows = sorted(row(dice.randint(0, 12), "40") for _ in range(dice.randint(1, 6)))
        pairs = matched(lines, rows)
        assert len({at for at, _ in pairs}) == len({to for _, to in pairs}) == len(pairs)
        days = sum(abs(lines[at].day - rows[to].day) for at, to in pairs)
        assert (len(pairs), -days) == best_by_brute_force(lines, rows)


def a_book(seed: int, deposits: int, *, unique: bool) -> tuple[list[Entry], list[Entry], set[Pair]]:
    """A troop's deposits and what its bank makes of them: days later, some as one, some never, some of nobody's."""
    dice = random.Random(seed)  # noqa: S311
    every = range(1000, 90_000) if unique else range(10_000, 30_000, 500)
    amounts = dice.sample(every, deposits) if unique else dice.choices(every, k=deposits)
    rows = sorted(Entry(dice.randint(0, 70), cents, "deposit", "") for cents in amounts)
    told: list[tuple[Entry, list[int]]] = []
    to = 0
    while to < len(rows):
        chance = dice.random()
        if chance < 0.03:  # never arrived
            to += 1
            continue
        many = 1
        while chance > 0.9 and many < 3 and to + many < len(rows) and rows[to + many].day - rows[to].day <= 2:
            many += 1
        some = list(range(to, to + many))
        day = rows[some[-1]].day + dice.choices([-1 if many == 1 else 0, 0, 1, 2, 3], [1, 8, 6, 3, 1])[0]
        told.append((Entry(day, sum(rows[k].cents for k in some), "", ""), some))
        to += many
    told += [(Entry(dice.randint(0, 75), dice.randrange(1000, 90_000), "", "nobody's"), []) for _ in range(2)]
    told.sort()
    return [one for one, _ in told], rows, {(at, k) for at, (_one, some) in enumerate(told) for k in some}


def test_nearly_all_are_found_and_none_wrong_where_amounts_are_unique() -> None:
    found = wrong = truth = 0
    for seed in range(300):
        lines, rows, true = a_book(seed, 20, unique=True)
        pairs = set(matched(lines, rows))
        found, wrong, truth = found + len(pairs & true), wrong + len(pairs - true), truth + len(true)
    assert wrong == 0
    assert found >= 0.99 * truth


# Many troops, many days


def entries(troops: int, days: list[date]) -> pa.Table:
    """What measures.bank_entries would hold of random books."""
    start, told = date(2027, 2, 8), []
    for number in range(troops):
        lines, rows, _ = a_book(number, 18, unique=number % 2 == 0)
        for as_of in days:
            for is_line, listed in ((True, lines), (False, rows)):
                seen = [one for one in listed if start + timedelta(one.day) <= as_of]
                told += [
                    {"as_of": as_of, "troop": f"{number:04}", "is_line": is_line, "place": place,
                     "on_day": start + timedelta(one.day), "cents": one.cents, "kind": one.kind, "words": one.words}
                    for place, one in enumerate(seen)
                ]  # fmt: skip
    return pa.Table.from_pylist(told)


def test_a_thousand_troops_of_twenty_lines_take_less_than_two_seconds() -> None:
    table = entries(1000, [date(2027, 5, 1)])
    assert 18_000 < sum(table["is_line"].to_pylist()) < 22_000
    bank_pairs(table.slice(0, 400))  # the solver is loaded
    begun = process_time()
    pairs = bank_pairs(table)
    assert process_time() - begun < 2
    assert len(pairs) > 15_000


# From the book to bank.csv

BOOK = {
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 10\n0417 2027-02-21 GLA 10\n0417 2027-02-28 GLA 10",
    "banked": """
        troop  week_ending  date        amount  slip
        0417   2027-02-14   2027-02-09  52.00   4711
        0417   2027-02-14   2027-02-10  31.00   -
        0417   2027-02-14   2027-02-11  9.00    -
        0417   2027-02-14   2027-02-12  77.00   -""",
    "remittances": """
        reference  troop  date        amount  state    state_on
        R-1        0417   2027-02-16  60.00   cleared  2027-02-18""",
    "bank_lines": """
        troop  line  date        amount  text          kind
        0417   b1    2027-02-10  52.00   SLIP~4711     -
        0417   b2    2027-02-12  40.00   COUNTER       deposit
        0417   b3    2027-02-13  18.50   -             card
        0417   b4    2027-02-17  -60.00  ORGANISATION  -
        0417   b5    2027-02-18  12.00   -             -""",
}


def bank_rows(trial: Trial, day: date, troop: str | None = None) -> list[dict[str, object]]:
    with looking_back.figures(trial.book, COORDINATOR, day) as figures:
        return figures.rows("bank", day, troop)


def test_from_the_book_to_what_the_bank_saw(tmp_path: Path) -> None:
    trial = Trial(tmp_path)
    assert accepted(trial.send(**FEEDS))
    assert accepted(trial.send(**BOOK))
    told = [(row["line"], row["answers"], row["days"], row["state"]) for row in bank_rows(trial, W3)]
    assert told == [
        ("", "deposit of 12 February", None, "not seen"),
        ("b1", "deposit of 9 February, slip 4711", 1, "matched"),
        ("b2", "deposit of 10 February; deposit of 11 February", 2, "matched together"),
        ("b3", "", None, "card"),
        ("b4", "payment of 16 February R-1", 1, "matched"),
        ("b5", "", None, "not reported"),
    ]
    states = {str(row["line"]): row["state"] for row in bank_rows(trial, W2)}
    assert (states["b5"], states[""]) == ("open", "not seen")
    assert {row["state"] for row in bank_rows(trial, W1) if not row["line"]} == {"awaited"}
    assert bank_rows(trial, W3, "0031") == []


def test_a_collection_and_its_payment_are_one_row_of_the_book(tmp_path: Path) -> None:
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    trial.send(
        collections="troop on amount announced_on\n0417 2027-02-15 60.00 2027-02-10\n0417 2027-02-20 35.00 2027-02-12",
        remittances="reference troop date amount state state_on\nR-1 0417 2027-02-16 60.00 cleared 2027-02-18",
        bank_lines="troop line date amount\n0417 b4 2027-02-17 -60.00",
    )
    told = [(row["line"], row["answers"], row["state"]) for row in bank_rows(trial, W3)]
    assert told == [("", "collection of 20 February", "awaited"), ("b4", "payment of 16 February R-1", "matched")]


def test_a_returned_payment_goes_out_and_comes_back(tmp_path: Path) -> None:
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    trial.send(
        remittances="reference troop date amount state state_on\nR-1 0417 2027-02-16 60.00 returned 2027-02-19",
        bank_lines="troop line date amount\n0417 b4 2027-02-16 -60.00\n0417 b5 2027-02-19 60.00",
    )
    assert [(row["answers_kind"], row["state"]) for row in bank_rows(trial, W3)] == [
        ("payment", "matched"),
        ("returned payment", "matched"),
    ]


def test_a_leader_sees_the_lines_of_an_own_troop_alone(tmp_path: Path) -> None:
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    trial.send(bank_lines="troop line date amount\n0417 b4 2027-02-16 -60.00\n0031 b5 2027-02-19 60.00")
    with looking_back.figures(trial.book, Viewer("a leader", frozenset({"0031"})), W3) as figures:
        assert [row["troop"] for row in figures.rows("bank", W3)] == ["0031"]
