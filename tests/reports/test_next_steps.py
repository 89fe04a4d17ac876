"""What papers ask of a troop: the rows given, the sentence expected."""

from collections.abc import Callable

import pytest
from trial import W1, W2, Trial

from pipelines.reports.letters import text
from pipelines.reports.next_steps import needs_a_letter, next_steps, well_done
from pipelines.reports.rollup import week_of
from pipelines.reports.statement import lead
from pipelines.reports.week import rate, short_day

GIVEN = """
    document  troop  item  date        packages  kind
    D1        0417   GLA   2027-02-08  24        opening"""
STOCK = "troop week_ending item on_hand\n0417 2027-02-14 {item} {count}"
Steps = Callable[..., list[str]]


@pytest.fixture
def steps(trial: Trial) -> Steps:
    """What troop 0417 is asked after its first week."""

    def after(**tables: str) -> list[str]:
        trial.send(supply=GIVEN, **tables)
        with week_of(trial.book, W1) as week:
            return next_steps(week, "0417")

    return after


def test_a_troop_in_order_is_asked_for_its_next_form_only(steps: Steps) -> None:
    assert steps(stock=STOCK.format(item="GLA", count=24)) == [
        "Send the next form soon after 21 February, with a count of every item."
    ]


def test_packages_not_accounted_for_are_said_without_blame(steps: Steps) -> None:
    assert steps(stock=STOCK.format(item="GLA", count=18))[0] == (
        "6 packages are not accounted for (6 of GLA): count once more, and look for a record that was not sent yet."
    )


def test_more_than_should_be_there(steps: Steps) -> None:
    assert steps(stock=STOCK.format(item="GLA", count=26))[0].startswith(
        "More was counted than should be on hand (2 of GLA)"
    )


def test_a_week_that_did_not_come_in(steps: Steps) -> None:
    assert steps()[0] == (
        "Send the form of week 1 (to 14 February): without it these figures rest on the weeks before, and no count."
    )


@pytest.mark.parametrize(
    ("second", "cash", "asked"),
    [("H1", "60.00", ""), ("H2", "60.00", "0417-02 $60.00"),
     ("H1", "75.00", "0417-02 $75.00 (of the same household 0417-01 owes $60.00)")],
)  # fmt: skip
def test_a_household_that_is_even_is_asked_nothing(steps: Steps, second: str, cash: str, asked: str) -> None:
    """One child handed in what the other owes; of one that is over, the other is named."""
    roster = "troop participant registered_on contact_on_file household\n0417 0417-01 2026-10-01 yes H1"
    families = "troop week_ending participant item packages cash\n0417 2027-02-14 0417-01 GLA 10 -"
    found = steps(
        roster=f"{roster}\n0417 0417-02 2026-10-01 yes {second}",
        stock=STOCK.format(item="GLA", count=14),
        families=f"{families}\n0417 2027-02-14 0417-02 - - {cash}",
    )
    said = [step.partition("beyond their charge: ")[2] for step in found if "beyond their charge" in step]
    assert said == ([f"{asked}."] if asked else [])


def test_cash_that_no_deposit_accounts_for(steps: Steps) -> None:
    families = "troop week_ending participant item packages cash\n0417 2027-02-14 0417-01 - - 12.00"
    assert "Bank the $12.00 in cash that no deposit accounts for yet." in steps(
        stock=STOCK.format(item="GLA", count=24), families=families
    )


def test_a_stall_whose_takings_are_short(steps: Steps) -> None:
    stalls = """
        troop  week_ending  date        start  place   item  packages  cash
        0417   2027-02-14   2027-02-13  -      Square  GLA   4         -
        0417   2027-02-14   2027-02-13  -      Square  -     -         20.00"""
    assert "Look through your stalls: their takings are $4.00 below the price of what was sold." in steps(
        stock=STOCK.format(item="GLA", count=20), stalls=stalls
    )


def test_old_debts_of_families_are_named_unless_the_paper_has_no_families(trial: Trial) -> None:
    families = "troop week_ending participant item packages\n0417 2027-02-14 0417-01 GLA 2"
    trial.send(supply=GIVEN, families=families, stock=STOCK.format(item="GLA", count=22))
    day = W1.replace(month=3, day=7)  # three weeks later
    said = []
    for with_families in (True, False):
        with week_of(trial.book, day, with_families=with_families) as week:
            said.append(" ".join(next_steps(week, "0417")))
    by = "open from before 21 February; could it say by Thursday: money, packages back, or a day?"
    assert f"One family (0417-01) has $12.00 {by}" in said[0]
    assert f"One family has $12.00 {by}" in said[1]
    assert "0417-01" not in said[1]


def test_a_letter_goes_to_who_did_not_send_and_not_to_who_is_in_order(trial: Trial) -> None:
    contacts = (
        "troop participant registered_on contact_on_file\n0417 0417-01 2026-10-01 yes\n0417 0417-02 2026-10-01 yes"
    )
    trial.send(supply=GIVEN, stock=STOCK.format(item="GLA", count=24), roster=contacts)
    with week_of(trial.book, W1) as week:
        assert needs_a_letter(week, "0031")
        assert not needs_a_letter(week, "0417")
        letter = text(week, "0031")
    assert letter.startswith("Dear leader of troop 0031,\n")
    assert "week 1" in letter


def test_the_lead_says_what_is_past_due_since_when_and_whether_the_bank_covers_the_next(trial: Trial) -> None:
    """24 at $6.00 less proceeds of 24 at $0.70 are 127.20; two fifths of it were due on 12 March."""
    trial.send(supply=GIVEN)
    with week_of(trial.book, W1.replace(month=3, day=21)) as week:
        assert lead(week, "0417") == (
            "Your troop has not sold a package yet. No stock of this week is reported yet, so these figures rest on "
            "the weeks before and nothing is counted. You still owe the organisation $127.20 in all; $50.88 of it "
            "is past due, the oldest since 12 March. Next, about $127.20, of which $50.88 "
            "is past due, is due on 26 March: the bank may be $127.20 short of it."
        )


def test_something_good_is_said_that_is_true(trial: Trial) -> None:
    trial.send(supply=GIVEN, stock=STOCK.format(item="GLA", count=24))
    with week_of(trial.book, W1) as week:
        assert well_done(week, "0417") == (
            "Every package is accounted for and nothing is past due. Thank you for the care."
        )
        assert well_done(week, "0031") == "Thank you for looking after this troop's sale."


def test_small_words() -> None:
    from decimal import Decimal

    assert [rate(Decimal(text)) for text in ("0.7000", "0.8050", "0.8333")] == ["0.70", "0.805", "0.8333"]
    assert short_day(W2) == "21 February"


def test_several_of_a_kind_are_asked_about_once(trial: Trial) -> None:
    families = """
        troop  week_ending  participant  item  packages
        0417   2027-02-14   0417-77      GLA   2
        0417   2027-02-14   0417-78      GLA   2
        0417   2027-02-14   0417-79      GLA   2"""
    trial.send(supply=GIVEN, families=families, stock=STOCK.format(item="GLA", count=18))
    with week_of(trial.book, W1) as week:
        asked = [step for step in next_steps(week, "0417") if "is not on the roster" in step]
    assert len(asked) == 1
    assert "There are 2 more like it. Is this code right" in asked[0]
