"""What somebody most likely meant to type, where the value itself says so.

Comes in: the value found, what was expected, what else is known of it. Goes out: a sentence that names what to type
instead, or that only the person can tell where a sign or a word beside a number may change it; "" where there is
nothing to say. Advice never says another number than the one that was typed, and nothing is ever taken in by it.
"""

import re
import unicodedata
from collections.abc import Callable
from datetime import date, timedelta
from difflib import get_close_matches

from pipelines.intake.judging.judge import AMOUNT, CLOCK_TIME, DAY, PACKAGES, PACKAGES_BACK

NUMBER_WORDS = "none one two three four five six seven eight nine ten eleven twelve".split()
MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()
WEEKDAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
MINUS = "-\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"
ONE_NUMBER = re.compile(r"([0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)")
COMMA_DECIMAL = re.compile(r"([0-9]{1,3}(?:[. ][0-9]{3})+|[0-9]+),([0-9]{2})")
ONE_AMOUNT = re.compile(r"([0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]{1,2})?|[0-9]+(?:\.[0-9]{1,2})?)")
AROUND = re.compile(rf"([^0-9{MINUS}]*)([{MINUS}]?)\s*([0-9](?:[0-9., ]*[0-9])?)(.*)", re.DOTALL)
# What may stand beside a number and leaves it what it is.
IDLE = {"", "about", "approx", "circa", "ca", "packages", "package", "pkgs", "pkg", "packs", "pack", "pcs", "pieces"}
IDLE |= {"bags", "bag", "ea", "each", "only", "dollars", "dollar", "usd", "cad", "aud", "nzd", "eur", "euro", "euros"}
IDLE |= {"gbp", "pounds", "in", "cash"}
THREE_NUMBERS = re.compile(r"(\d{1,4})[./\- ]+(\d{1,2})[./\- ]+(\d{2,4})")
DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .\-]+([a-z]{3})[a-z]*[ .,\-]+(\d{4})")
MONTH_FIRST = re.compile(r"([a-z]{3})[a-z]*[ .\-]+(\d{1,2})(?:st|nd|rd|th)?[ .,\-]+(\d{4})")
CLOCK = re.compile(r"([0-9]{1,2})[.h ]?([0-9]{2})(?:\s*(?:h|hrs|hours|uhr))?")
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
    sign, digits, is_sure = _number(said)
    one = ONE_NUMBER.fullmatch(digits)
    if not one:
        return ""
    typed = f"{sign}{int(one[1].replace(',', ''))}"
    if not is_sure or (sign and not may_be_negative):
        return _only_you(found)
    return _instead(found, typed)


def _amount(found: str) -> str:
    sign, digits, is_sure = _number(found.strip().casefold())
    comma, one = COMMA_DECIMAL.fullmatch(digits), ONE_AMOUNT.fullmatch(digits)
    if not comma and not one:
        return ""
    if not is_sure:
        return _only_you(found)
    typed = f"{int(re.sub(r'[. ]', '', comma[1]))}.{comma[2]}" if comma else digits.replace(",", "")
    return _instead(found, sign + typed) if sign + typed != found.strip() else ""


def _number(said: str) -> tuple[str, str, bool]:
    """The sign and the digits of the one number in a text, and whether nothing beside it may change what it says."""
    around = AROUND.fullmatch(said)
    if not around or any(mark.isdigit() for mark in around[4]):
        return "", "", False
    before, minus, digits, behind = around.groups()
    idle = all(_is_idle(words) for words in (before, behind))
    return "-" if minus else "", digits.strip(), idle


def _is_idle(words: str) -> bool:
    kept = "".join(" " if unicodedata.category(mark) == "Sc" or mark in "~≈.:" else mark for mark in words)
    return all(word in IDLE for word in kept.split())


def _only_you(found: str) -> str:
    return f"What number {found} stands for only you can tell."


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
