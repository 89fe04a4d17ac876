"""What the bank did not see, what nobody reported, what was taken twice, what lies in another account: cases that trip
each rule, and the nearest that do not."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, W2, W3, Trial, accepted

from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back

RULES = ("another_account", "bank_line_unknown", "bank_never_saw", "taken_twice")
LINES = "troop line date amount kind\n"
DEPOSITS = "troop week_ending date amount kind participant\n"
PAID = "reference troop date amount state state_on\n"


def found(folder: Path, day: date, **tables: str) -> dict[tuple[str, str], dict[str, Any]]:
    trial = Trial(folder)
    trial.send(**FEEDS)
    assert accepted(trial.send(**tables))
    with looking_back.figures(trial.book, COORDINATOR, day) as figures:
        rows = [row for row in figures.rows("exceptions", day) if row["rule"] in RULES]
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
