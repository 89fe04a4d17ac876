"""What letters and statements say, by case, as sentences: rows given, words expected."""

import email
import email.policy
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from trial import FEEDS, SEASON, W1, W2, Trial

from pipelines.follow_up.decisions import Entry, Key, write
from pipelines.reports.letters import letter, subject, text
from pipelines.reports.next_steps import next_steps
from pipelines.reports.rollup import week_of
from pipelines.reports.statement import values

SUPPLY = "document troop item date packages kind\nD1 0417 GLA 2027-02-08 24 opening"
STOCK = "troop week_ending item on_hand\n0417 2027-02-14 GLA {}"
LATE = date(2027, 3, 21)


@pytest.fixture(scope="module")
def late(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A troop with $50.88 past due since 12 March, whose forms of five weeks are missing."""
    trial = Trial(tmp_path_factory.mktemp("late"))
    trial.send(**FEEDS)
    trial.send(
        supply=SUPPLY,
        stock=STOCK.format(24) + "\n0031 2027-03-21 GLA 0",
        remittances="""
        reference  troop  date        amount  state     state_on    reason
        R-1        0417   2027-03-13  50.88   returned  2027-03-15  no~such~account""",
    )
    return trial


def test_what_came_back_is_asked_before_what_is_past_due_and_missing_weeks_first(late: Trial) -> None:
    with week_of(late.book, LATE) as week:
        steps = next_steps(week, "0417")
        assert subject(week, "0417") == "Troop 0417, week 6: five things before 26 March"
        said = text(week, "0417")
    assert steps[0].startswith("Send the forms of week 2, week 3, week 4, week 5 and 1 more: until they are in")
    assert steps[1].startswith("The payment of $50.88 of 13 March (R-1) came back on 15 March: no such account.")
    assert any(step.startswith("Pay the $50.88 that is past due since 12 March") for step in steps[2:])
    assert "Please read these figures with care: forms of week 5 and week 6 are not in yet." in said


def test_a_statements_dues_end_in_what_is_owed_and_its_week_runs_from_balance_to_balance(late: Trial) -> None:
    with week_of(late.book, LATE) as week:
        told = values(week, "0417")
        row = week.standing["0417"]
    assert told["dues"][-1] == ["In all", "", "$127.20", "owed, due or not"]
    assert told["dues_said"] == (
        "Nothing more than $50.88 is late. By 26 March about $127.20 will have been paid or credited in all."
    )
    assert told["week"][0] == ["14 March", "Owed before this week", "$127.20"]
    assert told["week"][-1] == ["21 March", "Owed now", f"${row['owed']}"]
    with week_of(late.book, W1) as week:
        assert values(week, "0417")["week"] == [
            ["7 February", "Owed before this week", "$0.00"],
            ["8 February", "Opening order, D1", "$144.00"],
            ["14 February", "Proceeds, by as much as they changed", "\N{MINUS SIGN}$16.80"],
            ["14 February", "Owed now", "$127.20"],
        ]


def test_a_promise_is_in_both_and_not_asked_again(late: Trial, tmp_path: Path) -> None:
    trial = late.copied_to(tmp_path)
    promise = Entry(Key("past_due", "0417"), "promise", "on the phone", date(2027, 3, 26), Decimal("50.88"))
    assert write(trial.book, "coordinator", LATE, [promise]) == 1
    with week_of(trial.book, LATE) as week:
        letter_said, statement_said = text(week, "0417"), values(week, "0417")
    sentence = "You promised $50.88 for Friday 26 March (past due). Thank you."
    assert sentence in letter_said
    assert statement_said["promises"] == [sentence]
    for said in (letter_said, " ".join(statement_said["steps"])):
        assert "Pay the $50.88" not in said


def test_a_rate_that_is_not_the_tiers_alone_is_explained(new_trial: type[Trial]) -> None:
    trial = new_trial()
    trial.send(troops="troop level extra_rate\n0417 younger 0.10", roster=FEEDS["roster"].split("\n        0031")[0])
    trial.send(supply=SUPPLY, stock=STOCK.format(24))
    with week_of(trial.book, W1) as week:
        said = values(week, "0417")["account"][1][0]
    assert said == "Proceeds, $0.80 a package ($0.70 tier + $0.10 in place of awards), provisional"


def test_a_troop_in_order_is_thanked_in_a_few_lines(trial: Trial) -> None:
    yes = "troop participant registered_on contact_on_file\n0417 0417-01 2026-10-01 yes\n0417 0417-02 2026-10-01 yes"
    trial.send(supply=SUPPLY, stock=STOCK.format(24), roster=yes)
    with week_of(trial.book, W1) as week:
        assert subject(week, "0417") == "Troop 0417, week 1: all in order, thank you"
        said = text(week, "0417")
    assert "there is nothing to ask" in said
    assert len(said.split("\n")) < 10


def test_what_is_held_comes_as_a_list_of_cells(trial: Trial) -> None:
    trial.send(supply=SUPPLY)
    trial.send(stock=STOCK.format("many"))
    with week_of(trial.book, W1) as week:
        content = letter(week, "0417")
        assert content == letter(week, "0417"), "the same bytes each time"
    made = email.message_from_bytes(content, policy=email.policy.default)
    names = [part.get_filename() or "" for part in made.iter_attachments()]
    assert names[0] == "statement-0417-week-1.pdf"
    assert [name.rsplit(".", 1)[1] for name in names[1:]] == ["xlsx", "txt"]
    told = list(made.iter_attachments())[2].get_content()
    assert "many" in told


def test_a_letter_of_then_brings_what_was_held_then(trial: Trial) -> None:
    """The same known-on time gives the same letter, whether what was held is mended or more is held since."""
    trial.send(supply=SUPPLY)
    trial.send(stock=STOCK.format("many"))
    with week_of(trial.book, W1) as week:
        known_on, before = week.known_on, letter(week, "0417")
    trial.send(stock=STOCK.format(24))
    with week_of(trial.book, W1, known_on) as week:
        assert letter(week, "0417") == before
    trial.send(stock=STOCK.format("few"))
    with week_of(trial.book, W1, known_on) as week:
        assert letter(week, "0417") == before
        assert len(week.figures.files.held()) == 1


def test_who_signs_and_which_number_to_call(new_trial: type[Trial]) -> None:
    named = SEASON.replace(
        'week_ends_on = "sunday"', 'week_ends_on = "sunday"\ncoordinator = "Wren"\nphone = "555 0142"'
    )
    trial = new_trial(named)
    trial.send(**FEEDS, supply=SUPPLY)
    with week_of(trial.book, W2) as week:
        said = text(week, "0417")
    assert "Easier to talk it over? Call Wren on 555 0142." in said
    assert said.rstrip().endswith("Wren\nTest area")


def test_differences_with_the_organisations_books_are_not_asked_of_a_leader(trial: Trial) -> None:
    trial.send(supply=SUPPLY, stock=STOCK.format(24), organisation_balance="troop on owed\n0417 2027-02-14 99.00")
    with week_of(trial.book, W1) as week:
        assert [row["rule"] for row in week.exceptions["0417"] if row["rule"] == "books_differ"]
        assert "99.00" not in text(week, "0417")
