"""What somebody most likely meant to type, where the value itself says so.

Comes in: the value found, what was expected, what else is known of it. Goes out: a sentence that names what to type
instead, or "" where only the person can tell. Nothing is ever taken in by such a guess.
"""

import re
from collections.abc import Callable
from datetime import date, timedelta
from difflib import get_close_matches

from pipelines.intake.judging.judge import AMOUNT, CLOCK_TIME, DAY, PACKAGES, PACKAGES_BACK

NUMBER_WORDS = "none one two three four five six seven eight nine ten eleven twelve".split()
MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()
WEEKDAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
ONE_NUMBER = re.compile(r"[^\d.,-]*(-?\d{1,3}(?:,\d{3})+|-?\d+)[^\d.,-]*")
COMMA_DECIMAL = re.compile(r"\D{0,4}(\d{1,3}(?:[. ]\d{3})+|\d+),(\d{2})\D{0,4}")
ONE_AMOUNT = re.compile(r"[^\d.,-]*(\d{1,3}(?:,\d{3})+(?:\.\d{1,2})?|\d+(?:\.\d{1,2})?)[^\d.,-]*")
THREE_NUMBERS = re.compile(r"(\d{1,4})[./\- ]+(\d{1,2})[./\- ]+(\d{2,4})")
DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .\-]+([a-z]{3})[a-z]*[ .,\-]+(\d{4})")
MONTH_FIRST = re.compile(r"([a-z]{3})[a-z]*[ .\-]+(\d{1,2})(?:st|nd|rd|th)?[ .,\-]+(\d{4})")
CLOCK = re.compile(r"(\d{1,2})[.h ]?(\d{2})\D*")
CODES = re.compile(r"Type one of (.+)\.")


def meant(found: str, expected: str, how: str) -> str:
    """A sentence with what to type in place of `found`; "" where that cannot be told."""
    if read := READ.get(expected):
        return read(found)
    if expected.removeprefix("a ") in WEEKDAYS:
        return _week_end(found, expected.removeprefix("a "))
    codes = CODES.fullmatch(how)
    near = get_close_matches(found.strip().upper(), codes[1].split(", "), 1, 0.6) if codes else []
    return _instead(found, near[0]) if near else ""


def _instead(found: str, typed: str) -> str:
    return f"In place of {found} type {typed}."


def _packages_back(found: str) -> str:
    return _packages(found, may_be_negative=True)


def _packages(found: str, *, may_be_negative: bool = False) -> str:
    said = found.strip().casefold().removesuffix(".")
    if "case" in said:
        return f"In place of {found} type their packages: the cases times the packages in one."
    if said in ("o", "-", "nil", "no", "nothing", "none", "zero"):
        return _instead(found, "0")
    if said in NUMBER_WORDS:
        return _instead(found, str(NUMBER_WORDS.index(said)))
    one = ONE_NUMBER.fullmatch(said)
    if not one:
        return ""
    number = int(one[1].replace(",", ""))
    return _instead(found, str(number)) if number >= 0 or may_be_negative else ""


def _amount(found: str) -> str:
    said = found.strip()
    comma = COMMA_DECIMAL.fullmatch(said)
    if comma:
        return _instead(found, f"{int(re.sub(r'[. ]', '', comma[1]))}.{comma[2]}")
    one = ONE_AMOUNT.fullmatch(said)
    return _instead(found, one[1].replace(",", "")) if one and one[1] != said else ""


def _day(found: str) -> str:
    said = found.strip().casefold()
    named = [(m[3], m[2], m[1]) for m in [DAY_FIRST.fullmatch(said)] if m]
    named += [(m[3], m[1], m[2]) for m in [MONTH_FIRST.fullmatch(said)] if m]
    readings = {_date(int(y), MONTHS.index(m) + 1, int(d)) for y, m, d in named if m in MONTHS}
    if parts := THREE_NUMBERS.fullmatch(said):
        first, second, third = (int(part) for part in parts.groups())
        if first > 31:
            readings = {_date(first, second, third)}
        else:
            year = third + 2000 if third < 100 else third
            readings = {_date(year, second, first), _date(year, first, second)}
    known = sorted(day for day in readings if day)
    if len(known) == 1:
        return _instead(found, known[0].isoformat())
    if known:
        told = [f"{day.isoformat()} if {day.day} {day:%B} is meant" for day in known]
        return f"In place of {found} type {told[0]}, or {told[1]}."
    return ""


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _week_end(found: str, weekday: str) -> str:
    try:
        day = date.fromisoformat(found)
    except ValueError:
        return ""
    end = day + timedelta(days=(WEEKDAYS.index(weekday) - day.weekday()) % 7)
    return f"If the week that {found} lies in is meant, type {end.isoformat()}."


def _clock(found: str) -> str:
    said = CLOCK.fullmatch(found.strip().casefold())
    if not said or int(said[1]) > 23 or int(said[2]) > 59 or "m" in found.casefold():
        return ""
    return _instead(found, f"{int(said[1]):02}:{said[2]}")


READ: dict[str, Callable[[str], str]] = {
    PACKAGES.expected: _packages,
    PACKAGES_BACK.expected: _packages_back,
    AMOUNT.expected: _amount,
    DAY.expected: _day,
    CLOCK_TIME.expected: _clock,
}
