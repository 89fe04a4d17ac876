"""Figures as people read them."""

import re
from datetime import date
from decimal import Decimal

import pytest

from dashboard.parts import words


@pytest.mark.parametrize(
    ("amount", "currency", "told"),
    [
        ("1234.5", "USD", "$1,234.50"),
        ("-1234.50", "USD", "-$1,234.50"),
        ("0", "USD", "$0.00"),
        ("12", "EUR", "€12.00"),
        ("12", "CAD", "CAD 12.00"),
    ],
)
def test_money_has_its_sign_and_two_decimals(amount: str, currency: str, told: str) -> None:
    assert words.money(Decimal(amount), currency) == told


def test_nothing_is_no_value() -> None:
    assert words.money(None) == words.percent(None) == words.number(None) == "not known yet"


def test_numbers_round_half_away_from_zero() -> None:
    assert (words.number(41208), words.number(2.25, 1), words.number(-0.04, 1)) == ("41,208", "2.3", "0.0")
    assert (words.percent(0.125), words.percent(0.005, 1)) == ("13 %", "0.5 %")


def test_cases_in_brackets_where_there_is_a_full_one() -> None:
    assert words.cases(1204, 12) == "1,204 (100 cases and 4)"
    assert words.cases(24, 12) == "24 (2 cases)"
    assert words.cases(12, 12) == "12 (1 case)"
    assert words.cases(11, 12) == "11"


def test_a_share_with_its_count_beside_it() -> None:
    assert words.of(12, 17, 12 / 17) == "12 of 17 (71 %)"


def test_a_long_list_ends_with_how_many_more() -> None:
    assert words.listed(["0206", "0417", "1282"]) == "0206, 0417 and 1282"
    assert words.listed(["0206"]) == "0206"
    assert words.listed([str(n) for n in range(10)]) == "0, 1, 2, 3, 4, 5, 6, 7 and 2 more"


@pytest.mark.parametrize(
    ("due_on", "last"),
    [
        (date(2027, 3, 26), date(2027, 3, 25)),  # a Friday: the Thursday before
        (date(2027, 3, 29), date(2027, 3, 26)),  # a Monday: the Friday before
        (date(2027, 3, 28), date(2027, 3, 26)),  # a Sunday: the Friday before
    ],
)
def test_the_last_day_to_bank_is_a_weekday_before_the_collection(due_on: date, last: date) -> None:
    """Common practice, no source."""
    assert words.last_day_to_bank(due_on) == last


def test_text_from_outside_is_no_markup() -> None:
    assert words.plain("**$5** [x](y) :red[z] <b>") == r"\*\*\$5\*\* \[x\]\(y\) \:red\[z\] \<b\>"


@pytest.mark.parametrize(
    ("cover", "next_due_on", "collected", "apart", "told"),
    [
        ("10", date(2027, 3, 26), "0", None, "covered"),
        ("0", date(2027, 3, 26), "0", Decimal(0), "covered"),
        ("10", date(2027, 3, 26), "0", Decimal("-0.01"), "covered, but not with what is past due"),
        ("-0.01", date(2027, 3, 26), "0", None, "may not be covered"),
        ("-5", None, "5", None, "may not be covered"),
        ("5", None, "0", None, "nothing ahead"),
    ],
)
def test_cover_in_words(cover: str, next_due_on: date | None, collected: str, apart: Decimal | None, told: str) -> None:
    row = {"cover": Decimal(cover), "next_due_on": next_due_on, "being_collected": Decimal(collected)}
    row |= {"cover_if_apart": apart}
    assert words.cover_said(row) == told


@pytest.mark.parametrize(
    "text", ["www.example.org", "see https://example.org/x", "HTTP://EXAMPLE.ORG", "a.b@example.org"]
)
def test_an_address_in_a_text_becomes_no_link(text: str) -> None:
    """As the page's own Markdown finds them in a text, whatever of it is escaped."""
    shown = re.sub(r"\\(.)", r"\1", words.plain(text))
    found = re.search(r"https?://|www(?=\.)|[-.\w+]+@[-\w]+(\.[-\w]+)+", shown, re.IGNORECASE)
    assert not found
    assert shown.replace(words.JOINER, "") == text
