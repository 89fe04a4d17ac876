"""What the demo's table of troubles says of money is found: each case by its rule, at its troop, and nowhere else."""

from decimal import Decimal

import pytest
from shown_screens import SIX, figures

from demo_warehouse import TROUBLES
from pipelines.reports.letters import text
from pipelines.reports.rollup import week_of
from pipelines.store.book import Book

ONE_CALL_EACH = {  # a kind of trouble, and the rule that asks about it
    "another_account": "another_account",
    "bank_lines": "bank_line_unknown",
    "collected_twice": "taken_twice",
    "exchanged_more": "exchanged_over_damaged",
    "family_overpaid": "family_overpaid",
    "rate_fell": "rate_fell",
    "returned_remittance": "remittance_returned",
    "sent_twice": "taken_twice",
    "stall_and_page": "stall_and_page",
}
BY_KIND = {trouble.kind: trouble for trouble in TROUBLES}
FAMILIES = ("family_behind", "family_overpaid", "leaver_with_debt")


@pytest.mark.parametrize("kind", ONE_CALL_EACH)
def test_a_case_is_one_call(demo_book: Book, kind: str) -> None:
    rule, troop = ONE_CALL_EACH[kind], BY_KIND[kind].troop
    found = [row["troop"] for row in figures(demo_book, "exceptions") if row["rule"] == rule]
    assert found.count(troop) == 1


def test_card_money_that_the_organisation_has_is_asked_about(demo_book: Book) -> None:
    assert any(row["rule"] == "card_is_online" for row in figures(demo_book, "exceptions"))


def test_an_even_household_is_no_call_and_who_changed_troops_is_one(demo_book: Book) -> None:
    called = [row["subject"] for row in figures(demo_book, "exceptions") if row["rule"] in FAMILIES]
    together = [row for row in figures(demo_book, "families") if row["household"]]
    assert len(together) == 2
    assert sum(row["owes"] for row in together) == 0 < max(row["owes"] for row in together)
    assert not {row["participant"] for row in together} & set(called)
    assert called.count(BY_KIND["changed_troops"].participant) == 1
    own = {row["troop"] for row in figures(demo_book, "families")
           if row["participant"] == BY_KIND["changed_troops"].participant}  # fmt: skip
    assert own == {BY_KIND["changed_troops"].troop, BY_KIND["changed_troops"].other}


@pytest.mark.parametrize(
    ("kind", "column"), [("bank_fee", "bank_fees"), ("float_taken", "float_out"), ("gift_at_stall", "gifts")]
)
def test_each_kind_of_bank_row_and_a_gift_have_their_place(demo_book: Book, kind: str, column: str) -> None:
    amounts = {row["troop"]: row[column] for row in figures(demo_book, "standing") if row[column]}
    assert amounts == {BY_KIND[kind].troop: Decimal(BY_KIND[kind].number) / 100}


def test_a_deposit_in_another_account_names_neither_troop_to_the_other(demo_book: Book) -> None:
    one, other = BY_KIND["another_account"].troop, BY_KIND["another_account"].other
    with week_of(demo_book, SIX) as week:
        assert other not in text(week, one)
        assert one not in text(week, other)
