"""Kinds of rows of the bank, cheques that came back, gifts: each in its own account, and nothing left over."""

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, W1, W2, W3, Trial, accepted

from pipelines.figures.figures import Figures

ROWS = {
    "supply": "document troop item date packages kind\nR1 0417 GLA 2027-02-09 20 opening",
    "stock": "troop week_ending item on_hand\n0417 2027-02-14 GLA 10\n0417 2027-02-21 GLA 10\n0417 2027-02-28 GLA 10",
    "families": """
        troop  week_ending  participant  item  packages  cash
        0417   2027-02-14   0417-01      GLA   5         -
        0417   2027-02-14   0417-01      -     -         30.00""",
    "stalls": """
        troop  week_ending  date        place   item  packages  cash   gift
        0417   2027-02-14   2027-02-13  Market  GLA   5         -      -
        0417   2027-02-14   2027-02-13  Market  -     -         30.00  12.00""",
}
DEPOSIT = "0417 2027-02-14 2027-02-14 72.00 - - -"
HEADER = "troop week_ending date amount kind participant note"


def made(folder: Path, *banked: str, **more: str) -> Trial:
    trial = Trial(folder)
    assert accepted(trial.send(**FEEDS))
    outcomes = trial.send(**{**ROWS, "banked": "\n".join([HEADER, DEPOSIT, *banked])}, **more)
    assert accepted(outcomes), [one.findings for one in outcomes]
    return trial


def standing(trial: Trial, day: date = W2) -> dict[str, Any]:
    with trial.asked("standing", "ledger.trial_balance", "ledger.identities", days=[day]) as figures:
        assert left_over(figures, day) == []
        return next(row for row in figures.rows("standing", day) if row["troop"] == "0417")


def left_over(figures: Figures, day: date) -> list[dict[str, Any]]:
    """What of the double entry, or of where every dollar is, does not come out even."""
    con = figures._con
    found = con.execute("select * from ledger.trial_balance where difference <> 0 and as_of = ?", [day]).fetchall()
    lines = con.execute("select dollars_left, trial_balance from ledger.identities where as_of = ?", [day]).fetchall()
    return [*found, *(line for line in lines if any(line))]


def told(row: dict[str, Any], *names: str) -> list[str]:
    return [str(row[name]) for name in names]


def test_a_gift_is_in_the_cash_and_in_no_stalls_takings(tmp_path: Path) -> None:
    row = standing(made(tmp_path))
    assert told(row, "gifts", "stall_short", "not_banked", "in_bank", "families_owe") == [
        "12.00", "0.00", "0.00", "72.00", "0.00"
    ]  # fmt: skip


def test_a_fee_is_not_cash_that_lacks_a_deposit(tmp_path: Path) -> None:
    row = standing(made(tmp_path, "0417 2027-02-21 2027-02-18 -15.00 fee - -"))
    assert told(row, "bank_fees", "not_banked", "in_bank") == ["15.00", "0.00", "57.00"]


def test_change_is_out_of_the_bank_until_it_is_put_back(tmp_path: Path) -> None:
    trial = made(tmp_path, "0417 2027-02-14 2027-02-12 -40.00 float - -", "0417 2027-02-21 2027-02-20 30.00 float - -")
    assert told(standing(trial, W1), "float_out", "not_banked", "in_bank") == ["40.00", "0.00", "32.00"]
    assert told(standing(trial), "float_out", "not_banked", "in_bank") == ["10.00", "0.00", "62.00"]


def test_a_cheque_that_came_back_opens_the_familys_debt_at_its_age(tmp_path: Path) -> None:
    trial = made(tmp_path, "0417 2027-02-28 2027-02-25 -20.00 returned_cheque 0417-01 -")
    row = standing(trial, W3)
    assert told(row, "families_owe", "stall_short", "not_banked", "in_bank") == ["20.00", "0.00", "0.00", "52.00"]
    with trial.asked("families", days=[W3]) as figures:
        family = next(one for one in figures.rows("families", W3) if one["participant"] == "0417-01")
    assert told(family, "paid_cash", "owes", "owes_0_7", "owes_8_14", "overpaid") == [
        "10.00", "20.00", "0.00", "20.00", "0.00"
    ]  # fmt: skip


def test_a_cheque_that_names_nobody_was_a_stalls(tmp_path: Path) -> None:
    row = standing(made(tmp_path, "0417 2027-02-21 2027-02-18 -8.00 returned_cheque - -"))
    assert told(row, "families_owe", "stall_short", "in_bank") == ["0.00", "8.00", "64.00"]


def test_without_kinds_every_row_is_a_deposit(tmp_path: Path) -> None:
    row = standing(made(tmp_path, "0417 2027-02-21 2027-02-18 -15.00 - - correction"))
    assert told(row, "bank_fees", "float_out", "not_banked", "in_bank") == ["0.00", "0.00", "15.00", "57.00"]


@pytest.mark.parametrize(
    ("line", "cell"),
    [
        ("0417 2027-02-21 2027-02-18 15.00 fee - -", "D3"),
        ("0417 2027-02-21 2027-02-18 15.00 returned_cheque - -", "D3"),
        ("0417 2027-02-21 2027-02-18 15.00 deposit 0417-01 -", "F3"),
        ("0417 2027-02-21 2027-02-18 -15.00 deposit - -", "D3"),
        ("0417 2027-02-21 2027-02-18 -15.00 charge - monthly", "E3"),
    ],
)
def test_what_is_refused(tmp_path: Path, line: str, cell: str) -> None:
    trial = Trial(tmp_path)
    trial.send(**FEEDS)
    outcome = trial.send(banked="\n".join([HEADER, DEPOSIT, line]))[0]
    assert outcome.status == "partly held"
    assert [one.cell for one in outcome.findings if not one.is_note] == [cell]


def test_each_kind_has_an_account_of_its_own(tmp_path: Path) -> None:
    trial = made(
        tmp_path,
        "0417 2027-02-21 2027-02-18 -15.00 fee - -",
        "0417 2027-02-21 2027-02-18 -40.00 float - -",
        "0417 2027-02-21 2027-02-18 -20.00 returned_cheque 0417-01 -",
        "0417 2027-02-21 2027-02-18 -8.00 returned_cheque - -",
    )
    with trial.asked("ledger.balances", days=[W2]) as figures:
        query = "select account, sum(balance) from ledger.balances where as_of = ? and troop = '0417' group by account"
        balances: dict[str, Decimal] = dict(figures._con.execute(query, [W2]).fetchall())
    wanted = {"bank": "-11.00", "bank_fees": "15.00", "float": "40.00", "gifts": "-12.00", "families": "20.00",
              "stall_short": "8.00", "cash": "0.00"}  # fmt: skip
    assert {name: str(balances[name]) for name in wanted} == wanted


HOUSEHOLD = "troop participant registered_on left_on contact_on_file household\n"


@pytest.mark.parametrize(
    ("second", "cash", "left_on", "called"),
    [
        ("H1", "60.00", "-", []),
        ("H1", "60.00", "2027-02-20", []),
        ("H2", "60.00", "-", ["family_behind 60.00", "family_overpaid 60.00"]),
        ("H1", "50.00", "-", ["family_behind 60.00 0417-02 is $50.00 over",
                              "family_overpaid 50.00 0417-01 owes $60.00"]),
    ],
)  # fmt: skip
def test_a_household_that_is_even_gets_no_call(
    tmp_path: Path, second: str, cash: str, left_on: str, called: list[str]
) -> None:
    """One child handed in what the other owes; in two households, or with $10.00 less, each is a call."""
    trial = Trial(tmp_path)
    roster = HOUSEHOLD + f"0417 0417-01 2026-10-01 {left_on} yes H1\n0417 0417-02 2026-10-01 - yes {second}"
    trial.send(**{**FEEDS, "roster": roster})
    families = f"""
        troop  week_ending  participant  item  packages  cash
        0417   2027-02-14   0417-01      GLA   10        -
        0417   2027-02-14   0417-02      -     -         {cash}"""
    assert accepted(trial.send(families=families, stock="troop week_ending item on_hand\n0417 2027-03-07 GLA 0"))
    day = date(2027, 3, 7)
    with trial.asked("exceptions", days=[day]) as figures:
        rows = [row for row in figures.rows("exceptions", day) if row["about"] == "families"]
    said = [f"{row['rule']} {row['at_stake']}{_of_household(row['what'])}" for row in rows]
    assert sorted(said) == called


def _of_household(what: str) -> str:
    _, found, sibling = what.partition(" Of the same household")
    return sibling.rstrip(".") if found else ""
