"""Edges of the money that random seasons seldom meet: rows that are alike, days that fall together, bounds of ages."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from trial import FEEDS, SEASON, W1, W2, Trial, accepted

from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back, take_in

TWICE = {
    "supply": """
        document  troop  item  date        packages  kind
        A         0417   GLA   2027-02-10  12        depot
        B         0417   GLA   2027-02-10  12        depot
        X         0417   GLA   2027-02-14  1         exchange""",
    "stock": """
        troop  week_ending  item  damaged  on_hand
        0417   2027-02-14   GLA   3        -""",
    "remittances": """
        reference  troop  date        amount  state    state_on
        R-1        0417   2027-02-10  50.00   cleared  2027-02-11
        R-2        0417   2027-02-10  50.00   cleared  2027-02-11
        R-3        0417   2027-02-10  8.00    cleared  2027-02-11
        R-3        0417   2027-02-10  8.00    returned 2027-02-12
        R-4        0417   2027-02-10  8.00    cleared  2027-02-11
        R-4        0417   2027-02-10  8.00    returned 2027-02-12""",
    "adjustments": """
        reference  troop  participant  date        amount
        A-1        0417   0417-01      2027-02-10  3.00
        A-2        0417   0417-01      2027-02-10  3.00
        A-3        0417   -            2027-02-10  4.00
        A-4        0417   -            2027-02-10  4.00""",
    "online_orders": """
        order  troop  participant  placed_on   mode     state     state_on    item  packages  goods_amount
        P-1    0417   0417-01      2027-02-10  donated  placed    2027-02-10  GIV   1         6.00
        P-2    0417   0417-01      2027-02-10  donated  placed    2027-02-10  GIV   1         6.00
        P-3    0417   0417-03      2027-02-10  donated  placed    2027-02-10  GIV   1         6.00
        P-4    0417   0417-03      2027-02-10  donated  placed    2027-02-10  GIV   1         6.00
        P-4    0417   0417-03      2027-02-10  donated  withdrawn 2027-02-12  GIV   1         6.00
        P-5    0417   0417-04      2027-02-10  donated  placed    2027-02-10  GIV   1         6.00
        P-5    0417   0417-04      2027-02-10  donated  withdrawn 2027-02-12  GIV   1         6.00
        H-1    0417   0417-01      2027-02-10  by_hand  done      2027-02-10  GLA   1         6.00
        H-2    0417   0417-01      2027-02-10  by_hand  done      2027-02-10  GLA   1         6.00
        H-3    0417   0417-01      2027-02-10  by_hand  done      2027-02-10  HRB   1         7.25""",
    "families": """
        troop  week_ending  participant  item  packages  cash  card
        0417   2027-02-14   0417-01      GLA   2         -     -
        0417   2027-02-14   0417-01      -     -         5.00  1.00
        0417   2027-02-14   0417-02      GLA   2         -     -
        0417   2027-02-14   0417-02      -     -         5.00  1.00
        0417   2027-02-14   0417-05      HRB   1         -     -""",
    "stalls": """
        troop  week_ending  date        start  place  item  packages  cash   card
        0417   2027-02-14   2027-02-13  09:00  North  GLA   3         -      -
        0417   2027-02-14   2027-02-13  09:00  North  -     -         10.00  2.00
        0417   2027-02-14   2027-02-13  09:00  South  GLA   3         -      -
        0417   2027-02-14   2027-02-13  09:00  South  -     -         10.00  2.00""",
    "banked": """
        troop  week_ending  date        amount  slip
        0417   2027-02-14   2027-02-13  7.00    S1
        0417   2027-02-14   2027-02-13  7.00    S1""",
    "moves": """
        troop  week_ending  date        item  packages  direction  other_troop
        0417   2027-02-14   2027-02-12  GLA   1         out        0031
        0417   2027-02-14   2027-02-12  GLA   1         out        0031""",
}


def test_rows_that_are_alike_each_count(trial: Trial) -> None:
    """Every event twice in the same words: once that is answered, twice the packages and money, in every measure."""
    asked = [one for one in trial.send(**TWICE) if one.status != "taken in"]
    assert {Path(one.name).stem for one in asked} == {"moves"}  # a deposit listed twice is an exception
    for one in asked:
        assert accepted(take_in.answer(trial.book, one.file_no, "twice", "tests"))
    row = trial.standing("0417", W1)
    expected = {
        "available": "22", "damaged_value": "12.00", "sold_from_stock": "11", "remote": "3", "taking_part": "4",
        "available_value": "132.00", "remote_value": "18.00", "stall_short": "12.00", "not_banked": "16.00",
        "in_bank": "-80.00", "remitted": "100.00", "paid_online": "37.25", "settled_otherwise": "6.00",
        "adjustments": "14.00", "charged": "150.00", "credits": "151.25", "families_owe": "-6.00",
    }  # fmt: skip
    assert {name: row[name] for name in expected} == expected
    assert trial.table("families", W1)["0417", "0417-03"]["remote"] == "1", "one of two alike was withdrawn"
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        lines = figures.evidence("postings", "0417", W1).num_rows
    assert lines == 2 * (3 + 1 + 6 + 4 + 10 + 7 + 6 + 2 + 1 + 1), (
        "each event twice posted, the move as one row, the proceeds once"
    )


def dues_of(trial: Trial, day: date) -> dict[str, Any]:
    """Troop 0417's standing of a day, unshortened."""
    with trial.asked("standing", days=[day]) as figures:
        return figures.rows("standing", day, "0417")[0]


@pytest.mark.parametrize(
    ("days_after", "column"),
    [
        (0, "being_collected"), (5, "being_collected"), (6, "past_due_0_7"), (7, "past_due_0_7"), (8, "past_due_8_14"),
        (14, "past_due_8_14"), (15, "past_due_15_30"), (30, "past_due_15_30"), (31, "past_due_over_30"),
    ],
)  # fmt: skip
def test_the_age_of_an_instalment(days_after: int, column: str, aged: Trial) -> None:
    """100.00 collected on 19 February, of which 30.00 is credited: 70.00 in one age and in no other."""
    row = dues_of(aged, date(2027, 2, 19) + timedelta(days_after))
    ages = ("being_collected", "past_due_0_7", "past_due_8_14", "past_due_15_30", "past_due_over_30")
    assert {name: row[name] for name in ages if row[name]} == {column: Decimal("70.00")}
    assert row["past_due"] == (0 if column == "being_collected" else Decimal("70.00"))


@pytest.fixture(scope="module")
def aged(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A troop with one collection, partly paid after it was announced; families with one charge each."""
    trial = Trial(tmp_path_factory.mktemp("aged"), SEASON.split("[[dues]]")[0])
    trial.send(**FEEDS)
    assert accepted(
        trial.send(
            collections="troop on amount announced_on\n0417 2027-02-19 100.00 2027-02-15",
            adjustments="reference troop participant date amount\nA 0417 - 2027-02-19 30.00",
            families=f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 10",
        )
    )
    return trial


@pytest.mark.parametrize(
    ("days_after", "column"),
    [(0, "owes_0_7"), (7, "owes_0_7"), (8, "owes_8_14"), (14, "owes_8_14"), (15, "owes_15_30"), (30, "owes_15_30"),
     (31, "owes_over_30")],
)  # fmt: skip
def test_the_age_of_a_charge(days_after: int, column: str, aged: Trial) -> None:
    """60.00 for packages of the week to 14 February: in one age and in no other."""
    day = W1 + timedelta(days_after)
    with aged.asked("families", days=[day]) as figures:
        (row,) = figures.rows("families", day, "0417")
    ages = ("owes_0_7", "owes_8_14", "owes_15_30", "owes_over_30")
    assert {name: row[name] for name in ages if row[name]} == {column: Decimal("60.00")}


def test_two_weeks_of_one_age_and_a_charge_of_half_a_dollar(new_trial: Callable[..., Trial]) -> None:
    """Weeks of 17 and 24 days ago add up; a week's charge below 1.00 counts like any other."""
    trial = new_trial(SEASON.replace('price = "6.00"', 'price = "0.50"', 1))
    trial.send(**FEEDS)
    families = f"troop week_ending participant item packages\n0417 {W1} 0417-01 GLA 3\n0417 {W2} 0417-01 GLA 1"
    assert accepted(trial.send(families=families))
    with trial.asked("families", days=[W2 + timedelta(17)]) as figures:
        (row,) = figures.rows("families", W2 + timedelta(17), "0417")
    assert (row["owes"], row["owes_15_30"]) == (Decimal("2.00"), Decimal("2.00"))
    with trial.asked("families", days=[W2]) as figures:
        (row,) = figures.rows("families", W2, "0417")
    assert (row["owes_0_7"], row["owes"]) == (Decimal("2.00"), Decimal("2.00"))


def test_shares_of_a_single_cheap_package(new_trial: Callable[..., Trial]) -> None:
    """One package of 0.50, taken and half paid: sold through wholly, paid through by half."""
    trial = new_trial(SEASON.replace('price = "6.00"', 'price = "0.50"', 1))
    trial.send(**FEEDS)
    families = (
        f"troop week_ending participant item packages cash\n0417 {W1} 0417-01 GLA 1 -\n0417 {W1} 0417-01 - - 0.25"
    )
    supply = "document troop item date packages kind\nA 0417 GLA 2027-02-10 1 opening"
    assert accepted(trial.send(families=families, supply=supply))
    row = trial.standing("0417", W1)
    assert (row["sell_through"], row["paid_through"]) == ("1.000000", "0.500000")
    assert trial.table("items", W1)["0417", "GLA"]["sell_through"] == "1.000000"


def test_two_dues_of_one_age_and_the_next_one(new_trial: Callable[..., Trial]) -> None:
    """Collected 6 and 7 days ago, 30.00 and 40.00 more: both past due; the next is announced, or an estimate."""
    trial = new_trial()
    trial.send(**FEEDS)
    announced = ["troop on amount announced_on", "0417 2027-02-21 30.00 2027-02-15", "0417 2027-02-22 70.00 2027-02-15"]
    assert accepted(trial.send(collections="\n".join(announced)))
    row = dues_of(trial, date(2027, 2, 28))
    assert (row["past_due_0_7"], row["being_collected"], row["next_due_is_estimate"]) == (Decimal("70.00"), 0, True)
    assert accepted(trial.send(collections="\n".join([*announced, "0417 2027-03-05 90.00 2027-02-27"])))
    row = dues_of(trial, date(2027, 2, 28))
    assert (row["next_due"], row["next_due_is_estimate"]) == (Decimal("90.00"), False)


RETURNS = {  # troop: remittance rows; what of the 100.00 collected on 19 February is in which age on the 21st
    "T1": ("2027-02-19 1.00 returned 2027-02-21", "past_due_0_7", "100.00"),  # made on its day, back on this day
    "T2": ("2027-02-18 1.00 returned 2027-02-20", "being_collected", "100.00"),  # an earlier payment came back
    "T3": ("2027-02-20 1.00 returned 2027-02-22", "being_collected", "100.00"),  # not back yet
    "T4": ("2027-02-19 1.00 returned 2027-02-20, 2027-02-19 1.00 cleared 2027-02-21", "being_collected", "99.00"),
    "T5": ("2027-02-19 1.00 returned 2027-02-20, 2027-02-19 1.00 cleared 2027-02-22", "past_due_0_7", "100.00"),
    "T6": ("", "being_collected", "100.00"),  # other troops' returns are not its own
}


def test_a_payment_that_came_back_makes_a_due_past_due(new_trial: Callable[..., Trial]) -> None:
    """Made from the due day on and returned by now, and not cleared since; each case a troop."""
    trial = new_trial(SEASON.split("[[dues]]")[0])
    troops, collections = ["troop level"], ["troop on amount announced_on"]
    remittances = ["reference troop date amount state state_on"]
    for troop, (stated, _column, _left) in RETURNS.items():
        troops.append(f"{troop} older")
        collections.append(f"{troop} 2027-02-19 100.00 2027-02-15")
        remittances += [f"R-{troop} {troop} {row}" for row in stated.split(", ") if row]
    assert accepted(trial.send(troops="\n".join(troops)))
    assert accepted(trial.send(collections="\n".join(collections), remittances="\n".join(remittances)))
    with trial.asked("standing", days=[W2]) as figures:
        rows = {row["troop"]: row for row in figures.rows("standing", W2)}
    ages = ("being_collected", "past_due_0_7")
    found = {troop: {age: str(row[age]) for age in ages if row[age]} for troop, row in rows.items()}
    assert found == {troop: {column: left} for troop, (_stated, column, left) in RETURNS.items()}


def test_a_troop_of_nobody_has_the_first_tier(new_trial: Callable[..., Trial]) -> None:
    """30 packages sold at a stall that nobody is named for, nobody registered: its average divides by nothing."""
    trial = new_trial()
    trial.send(troops="troop level\n0417 older")
    stalls = f"troop week_ending date start place item packages\n0417 {W1} {W1} 09:00 North GLA 30"
    assert accepted(trial.send(stalls=stalls))
    row = trial.standing("0417", W1)
    assert (row["proceeds_rate"], row["stall_short"]) == ("0.7000", "180.00")
    assert (row["not_banked"], row["in_bank"]) == ("0.00", "0.00")
    assert accepted(trial.send(troops="troop level divisor\n0417 older 1"))
    assert trial.standing("0417", W1)["proceeds_rate"] == "0.8500"


def test_a_due_date_may_fall(new_trial: Callable[..., Trial]) -> None:
    """A later due that asks for less in all lowers the earlier ones: 100.00 by 19 February, 60.00 by 26 February."""
    trial = new_trial(SEASON.split("[[dues]]")[0])
    trial.send(**FEEDS)
    announced = "troop on amount announced_on\n0417 2027-02-19 100.00 2027-02-15\n0417 2027-02-26 60.00 2027-02-16"
    assert accepted(trial.send(collections=announced))
    assert dues_of(trial, date(2027, 2, 25))["past_due"] == Decimal("100.00")
    row = dues_of(trial, date(2027, 2, 26))
    assert (row["past_due_0_7"], row["being_collected"]) == (Decimal("60.00"), 0)


def test_credits_below_nothing_make_no_instalment_larger(new_trial: Callable[..., Trial]) -> None:
    """An adjustment of -40.00 on the day a collection of 100.00 is announced: 100.00 is asked for, not 60.00."""
    trial = new_trial(SEASON.split("[[dues]]")[0])
    trial.send(**FEEDS)
    assert accepted(
        trial.send(
            collections="troop on amount announced_on\n0417 2027-02-19 100.00 2027-02-15",
            adjustments="reference troop participant date amount\nA 0417 - 2027-02-15 -40.00",
        )
    )
    row = dues_of(trial, date(2027, 2, 21))
    assert (row["credits"], row["being_collected"]) == (Decimal("-40.00"), Decimal("100.00"))
    assert row["cover"] == -100


def test_a_balance_counts_for_seven_days(new_trial: Callable[..., Trial]) -> None:
    """Read on Monday: it holds up to Sunday, and on the next Monday no longer; of two for one day the later week's."""
    trial = new_trial()
    trial.send(**FEEDS)
    monday = W1 - timedelta(6)
    header = "troop week_ending prepared_by bank_balance balance_on"
    assert accepted(trial.send(cover=f"{header}\n0417 {W1} leader 40.00 {monday}"))
    assert dues_of(trial, W1)["bank"] == Decimal("40.00")
    assert dues_of(trial, W1 + timedelta(1))["bank"] == 0
    day = W1 + timedelta(1)
    assert accepted(trial.send(cover=f"{header}\n0417 {W1} leader 40.00 {day}\n0417 {W2} leader 50.00 {day}"))
    assert dues_of(trial, day)["bank"] == Decimal("40.00")
    assert dues_of(trial, W2)["bank"] == Decimal("50.00")
    assert accepted(trial.send(cover=f"{header}\n0417 {W1} leader 40.00 {day}\n0417 {W2} leader - {W2}"))
    assert dues_of(trial, W2)["bank"] == Decimal("40.00"), "a day without a balance is no balance"


# What is past due beside an announced collection

ARREARS = "troop on amount announced_on arrears\n0417 2027-02-11 100.00 2027-02-09 -\n0417 2027-03-04 70.00 2027-02-15 "


@pytest.mark.parametrize(
    ("said", "cover", "apart", "later"),
    [
        ("-", "-70.00", "-170.00", "70.00"),  # not said: both ways; later the collection is taken to hold all
        ("included", "-70.00", None, "70.00"),
        ("apart", "-70.00", None, "170.00"),  # what is older stays beside it
    ],
)
def test_whether_a_collection_includes_what_is_past_due(
    new_trial: Callable[..., Trial], said: str, cover: str, apart: str | None, later: str
) -> None:
    trial = new_trial(SEASON.split("[[dues]]")[0])
    trial.send(**FEEDS)
    assert accepted(trial.send(collections=ARREARS + said))
    row = dues_of(trial, W2)
    assert (row["past_due"], row["next_due"]) == (Decimal("100.00"), Decimal("70.00"))
    assert (str(row["cover"]), row["cover_if_apart"] and str(row["cover_if_apart"])) == (cover, apart)
    row = dues_of(trial, date(2027, 3, 14))
    assert row["past_due"] == Decimal(later)


def test_nothing_past_due_leaves_no_second_cover(new_trial: Callable[..., Trial]) -> None:
    trial = new_trial(SEASON.split("[[dues]]")[0])
    trial.send(**FEEDS)
    assert accepted(trial.send(collections="troop on amount announced_on\n0417 2027-03-04 70.00 2027-02-15"))
    assert dues_of(trial, W2)["cover_if_apart"] is None
