"""What the bank did not see, what nobody reported, what was taken twice, what lies in another account: cases that trip
each rule, and the nearest that do not."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, W2, W3, Trial, accepted

RULES = (
    "another_account", "bank_differs", "bank_line_unknown", "bank_never_saw", "remittance_returned", "stall_differs",
    "taken_twice",
)  # fmt: skip
pytestmark = pytest.mark.rules(*RULES)
LINES = "troop line date amount kind\n"
DEPOSITS = "troop week_ending date amount kind participant\n"
PAID = "reference troop date amount state state_on\n"


def found(folder: Path, day: date, **tables: str) -> dict[tuple[str, str], dict[str, Any]]:
    trial = Trial(folder)
    trial.send(**FEEDS)
    assert accepted(trial.send(**tables))
    with trial.asked("exceptions", days=[day]) as figures:
        rows = figures.rows("exceptions", day)
    for row in rows:
        amounts = [one["amount"] for one in row["evidence"] if one["amount"] is not None]
        assert sum(amounts) == row["at_stake"]
        assert all(one["file"] for one in row["evidence"]), "down to the line"
        assert not any(troop in row["ask"] for troop in ("0417", "0031", "1282"))
    return {(row["rule"], row["troop"]): row for row in rows}


BEFORE = "0417 b0 2027-02-09 1.00 card\n"
ONE = DEPOSITS + "0417 2027-02-14 2027-02-10 52.00 - -"


@pytest.mark.parametrize(
    ("lines", "day", "is_found"),
    [
        (BEFORE + "0417 b1 2027-02-17 9.99 -", W3, True),
        (BEFORE + "0417 b1 2027-02-17 9.99 -\n0417 b2 2027-02-12 52.00 -", W3, False),  # it is there
        (BEFORE + "0417 b1 2027-02-14 9.99 -", W3, False),  # the lines do not go on past it
        (BEFORE + "0417 b1 2027-02-17 9.99 -", date(2027, 2, 17), False),  # a week has not gone
        ("0417 b1 2027-02-16 9.99 -", W3, False),  # they begin after it
        ("0031 b1 2027-02-17 9.99 -", W3, False),  # no lines of this troop
    ],
)
def test_a_deposit_the_bank_never_saw(tmp_path: Path, lines: str, day: date, is_found: bool) -> None:
    told = found(tmp_path, day, banked=ONE, bank_lines=LINES + lines)
    assert (("bank_never_saw", "0417") in told) is is_found
    if is_found:
        row = told["bank_never_saw", "0417"]
        assert str(row["at_stake"]) == "52.00"
        assert row["what"] == "The deposit of 10 February, $52.00, is in none of the lines of the bank that came in."


@pytest.mark.parametrize(
    ("line", "day", "is_found"),
    [
        ("0417 b1 2027-02-13 40.00 -", W2, True),
        ("0417 b1 2027-02-14 40.00 -", W2, False),  # a week has not gone
        ("0417 b1 2027-02-13 40.00 card", W2, False),
        ("0417 b1 2027-02-11 52.00 -", W2, False),
        ("0417 b1 2027-02-13 -15.00 fee", W2, False),
        ("0417 b1 2027-02-13 -15.01 fee", W2, True),
    ],
)
def test_a_line_that_nobody_reported(tmp_path: Path, line: str, day: date, is_found: bool) -> None:
    told = found(tmp_path, day, banked=ONE + "\n0417 2027-02-14 2027-02-12 -15.00 fee -", bank_lines=LINES + line)
    assert (("bank_line_unknown", "0417") in told) is is_found


TAKEN = "troop on amount announced_on\n0417 2027-02-12 60.00 2027-02-09"


@pytest.mark.parametrize(
    ("payments", "lines", "is_found"),
    [
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-13", "b1 2027-02-12 b2 2027-02-16", True),
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-13", "b1 2027-02-12", False),
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-13", "b1 2027-02-12 b2 2027-02-23", False),  # 11 days
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-13\nR-2 0417 2027-02-19 60.00 cleared 2027-02-19", "", True),
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-13\nR-2 0417 2027-02-19 59.00 cleared 2027-02-19", "", False),
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-13\nR-2 0417 2027-02-23 60.00 cleared 2027-02-23", "", False),
        ("R-1 0417 2027-02-12 60.00 returned 2027-02-13\nR-2 0417 2027-02-19 60.00 cleared 2027-02-19", "", False),
    ],
)
def test_a_collection_taken_twice(tmp_path: Path, payments: str, lines: str, is_found: bool) -> None:
    words = lines.split()
    booked = "".join(f"0417 {words[k]} {words[k + 1]} -60.00 -\n" for k in range(0, len(words), 2))
    more = {"bank_lines": LINES + booked} if booked else {}
    told = found(tmp_path, W3, remittances=PAID + payments, collections=TAKEN, **more)
    assert (("taken_twice", "0417") in told) is is_found


def test_not_where_so_much_is_due(tmp_path: Path) -> None:
    payments = "R-1 0417 2027-02-12 60.00 cleared 2027-02-13\nR-2 0417 2027-02-19 60.00 cleared 2027-02-19"
    due = TAKEN + "\n0417 2027-02-19 60.00 2027-02-14"
    assert not found(tmp_path, W3, remittances=PAID + payments, collections=due)


@pytest.mark.parametrize(
    ("other", "is_found"),
    [
        ("0031 x1 2027-02-11 52.00 -", True),
        ("0031 x1 2027-02-11 52.01 -", False),
        ("0031 x1 2027-02-16 52.00 -", False),
        ("0417 x1 2027-02-16 52.00 -", False),
    ],
)
def test_a_deposit_in_another_troops_account(tmp_path: Path, other: str, is_found: bool) -> None:
    told = found(tmp_path, W3, banked=ONE, bank_lines=LINES + BEFORE + "0417 b1 2027-02-17 9.99 -\n" + other)
    assert (("another_account", "0417") in told) is is_found
    if is_found:
        assert "troop 0031's" in told["another_account", "0417"]["what"]


COVER = "troop week_ending bank_balance balance_on\n0417 2027-02-14 12.00 2027-02-13"


@pytest.mark.parametrize(
    ("newer", "line", "at_stake"),
    [
        ("", "", "40.00"),  # a fortnight later still
        ("\n0417 2027-02-21 52.00 2027-02-20", "", None),
        ("\n0417 2027-02-21 20.00 2027-02-20", "", "32.00"),
        ("", "0417 b1 2027-02-14 52.00 -", None),
        ("", "0417 b1 2027-02-14 51.00 -", "40.00"),  # another amount: it answers nothing
        ("", "0417 b1 2027-02-13 52.00 -", "40.00"),  # it came before the balance was read
    ],
)
def test_a_hole_stays_until_a_newer_balance_or_line_fills_it(
    tmp_path: Path, newer: str, line: str, at_stake: str | None
) -> None:
    more = {"bank_lines": LINES + line} if line else {}
    told = found(tmp_path, W3, banked=ONE, cover=COVER + newer, **more)
    row = told.get(("bank_differs", "0417"))
    assert (str(row["at_stake"]) if row else None) == at_stake


BACK = PAID + "R-1 0417 2027-02-12 60.00 cleared 2027-02-13\nR-1 0417 2027-02-12 60.00 returned 2027-02-14\n"


def test_a_payment_that_is_found_in_two_ways_is_told_in_the_one_that_says_more(tmp_path: Path) -> None:
    """Twice of one amount, and twice after a return: which of the two it is must not be left to chance."""
    sent = "R-2 0417 2027-02-16 60.00 cleared 2027-02-17\nR-3 0417 2027-02-22 60.00 cleared 2027-02-23"
    told = found(tmp_path, W3, remittances=BACK + sent, collections=TAKEN)
    assert told["taken_twice", "0417"]["evidence"][0]["says"] == "the payment R-3, after R-1 had come back"


@pytest.mark.parametrize(
    ("sent", "is_twice", "returned"),
    [
        ("", False, "act now"),
        ("R-2 0417 2027-02-16 60.00 pending 2027-02-16", False, "watch"),
        ("R-2 0417 2027-02-16 60.00 cleared 2027-02-17", False, None),
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-18", False, None),
        ("R-1 0417 2027-02-12 60.00 cleared 2027-02-18\nR-2 0417 2027-02-24 60.00 pending 2027-02-24", True, None),
        ("R-2 0417 2027-02-16 60.00 cleared 2027-02-17\nR-3 0417 2027-02-27 60.00 pending 2027-02-27", True, None),
        ("R-2 0417 2027-02-16 60.00 cleared 2027-02-17\nR-3 0417 2027-02-27 59.00 pending 2027-02-27", False, None),
    ],
)
def test_a_payment_sent_again_after_a_return(tmp_path: Path, sent: str, is_twice: bool, returned: str | None) -> None:
    told = found(tmp_path, W3, remittances=BACK + sent, collections=TAKEN)
    assert (("taken_twice", "0417") in told) is is_twice
    assert told.get(("remittance_returned", "0417"), {}).get("severity") == returned


@pytest.mark.parametrize(
    ("row", "is_found"),
    [
        ("0417 2027-02-21 2027-02-18 -10.00 returned_cheque -", True),
        ("0417 2027-02-21 2027-02-18 -9.99 returned_cheque -", False),
        ("0417 2027-02-21 2027-02-18 -10.00 returned_cheque 0417-01", False),
        ("0417 2027-02-21 2027-02-18 -10.00 fee -", False),
    ],
)
def test_a_stalls_cheque_that_came_back(tmp_path: Path, row: str, is_found: bool) -> None:
    told = found(tmp_path, W3, banked=DEPOSITS + row)
    assert (("stall_differs", "0417") in told) is is_found
