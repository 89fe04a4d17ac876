"""How a day or a number may be written, and which readings a text allows: never one where two are possible.

Comes in: cells as they are, and the order of days or the decimal sign that a mapping states. Goes out: the same value
as the contract writes it, or None; for a proposal, every reading that is possible.
"""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Literal, get_args

from pipelines.intake.files.texts import narrowed

Order = Literal["day-first", "month-first", "year-first", "serial", "serial-1904"]
Sign = Literal["point", "comma"]
ORDERS: tuple[Order, ...] = get_args(Order)
SIGNS: tuple[Sign, ...] = get_args(Sign)

_HOUR = re.compile(
    r"[T,\s]+\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d{1,9})?)?\s*(?:[ap]\.?m\.?)?\s*(?:z|[+-]\d{2}:?\d{2})?$", re.IGNORECASE
)
_WEEKDAY = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]{0,6}\.?,?\s+", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"(\d{4})([-./ ]?)(\d{1,2})\2(\d{1,2})")
_NUMBERS = re.compile(r"(\d{1,2})([-./ ])(\d{1,2})\2(\d{4}|\d{2})")
_NAMED_DAY_FIRST = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[\s.\-/]*([a-z]{3,9})\.?[\s,.\-/]*(\d{4}|\d{2})", re.IGNORECASE
)
_NAMED_MONTH_FIRST = re.compile(
    r"([a-z]{3,9})\.?[\s.\-/]*(\d{1,2})(?:st|nd|rd|th)?[\s,.\-/]+(\d{4}|\d{2})", re.IGNORECASE
)
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
           "november", "december")  # fmt: skip
_SERIAL = re.compile(r"\d{5}(?:\.\d+)?")
_FIRST_DAYS = {"serial": date(1899, 12, 30), "serial-1904": date(1904, 1, 1)}

_GROUPED = {  # digits, in groups of three or in one; then what the sign divides off
    "point": re.compile(r"(\d{1,3}(?:([, '\u2019])\d{3})(?:\2\d{3})*|\d+)(?:\.(\d+))?"),
    "comma": re.compile(r"(\d{1,3}(?:([. '\u2019])\d{3})(?:\2\d{3})*|\d+)(?:,(\d+))?"),
}
_IN_BRACKETS = re.compile(r"\((.+)\)")


def _day(year: str, month: int, day: str) -> date | None:
    number = int(year) + (2000 if len(year) == 2 else 0)
    try:
        return date(number, month, int(day))
    except ValueError:
        return None


def _month(name: str) -> int:
    found = [k for k, month in enumerate(_MONTHS, 1) if month.startswith(name.casefold())]
    return found[0] if len(found) == 1 else 9 if name.casefold() == "sept" else 0


def day_in(text: str, order: Order | None) -> date | None:
    """The day that a text says, in this order; without one only a text that can be read in no other way."""
    text = _WEEKDAY.sub("", _HOUR.sub("", narrowed(text).strip()))
    if found := _YEAR_FIRST.fullmatch(text):
        return _day(found[1], int(found[3]), found[4]) if found[2] or len(text) == 8 else None
    if found := _NAMED_DAY_FIRST.fullmatch(text):
        is_sure = len(found[3]) == 4 or order == "day-first"
        return _day(found[3], _month(found[2]), found[1]) if is_sure else None
    if found := _NAMED_MONTH_FIRST.fullmatch(text):
        is_sure = len(found[3]) == 4 or order == "month-first"
        return _day(found[3], _month(found[1]), found[2]) if is_sure else None
    return _day_by(order, text) if order else None


def _day_by(order: Order, text: str) -> date | None:
    """The day that digits alone say, in this order."""
    if order in _FIRST_DAYS:
        return _FIRST_DAYS[order] + timedelta(days=int(float(text))) if _SERIAL.fullmatch(text) else None
    found = _NUMBERS.fullmatch(text)
    if not found:
        return None
    first, second, third = found[1], found[3], found[4]
    if order == "year-first":
        return _day(first, int(second), third) if len(third) == 2 and len(first) == 2 else None
    return _day(third, int(second), first) if order == "day-first" else _day(third, int(first), second)


def _plain(text: str) -> tuple[str, str]:
    """A number's sign, and its digits without currency, brackets and spaces at the ends."""
    text = narrowed(text).replace("\u2212", "-").strip()
    minus = ""
    if found := _IN_BRACKETS.fullmatch(text):
        minus, text = "-", found[1].strip()
    for _ in range(2):  # `-€ 5`, `€ -5`, `5 €-`
        if not minus and text.startswith(("-", "+")):
            minus, text = text[0], text[1:].strip()
        elif not minus and text.endswith("-"):
            minus, text = "-", text[:-1].strip()
        if text and unicodedata.category(text[0]) == "Sc":
            text = text[1:].strip()
        elif text and unicodedata.category(text[-1]) == "Sc":
            text = text[:-1].strip()
    return minus.rstrip("+"), text


def number_in(text: str, sign: Sign) -> str | None:
    """The number that a text says where this sign divides decimals, as `-1234.50`; None where it cannot be one."""
    minus, digits = _plain(text)
    found = _GROUPED[sign].fullmatch(digits)
    if not found or len(digits) > 40:
        return None
    if found[2] and found[1].startswith("0"):
        return None  # 0.125: nobody groups by thousands from nought on
    whole = re.sub(r"\D", "", found[1])
    rest = (found[3] or "").rstrip("0")
    return f"{minus}{whole}.{rest}" if rest else f"{minus}{whole}"


def _fits(number: str | None, places: int) -> bool:
    return number is not None and round(Decimal(number), places) == Decimal(number)


@dataclass
class Readings:
    """What the texts of a column allow: how often each way alone is possible, and where several are that differ."""

    alone: dict[str, int] = field(default_factory=dict)
    first: dict[str, str] = field(default_factory=dict)  # way → the first text that only it can read
    open_: dict[str, dict[str, str]] = field(default_factory=dict)  # text → way → what it would say
    plain: int = 0  # cells that are read in one way whatever is stated

    @property
    def decided(self) -> str | None:
        """The one way that the values allow, where some text tells."""
        return next(iter(self.alone)) if len(self.alone) == 1 else None

    @property
    def is_asked(self) -> bool:
        """Whether somebody must choose: texts that can be read in more than one way, or in none that all share."""
        return self.decided is None and bool(self.open_ or len(self.alone) > 1)


def _tell(found: Readings, text: str, possible: dict[str, str], many: int) -> None:
    if len(possible) == 1:
        way = next(iter(possible))
        found.alone[way] = found.alone.get(way, 0) + many
        found.first.setdefault(way, text)
    elif possible:
        found.open_[text] = possible


def days_readings(cells: Iterable[tuple[object, int]], first_day: date | None, last_day: date | None) -> Readings:
    """How the distinct cells of a column of days (with how often each stands there) may be read.

    `first_day`, `last_day`: a year of two digits, or a serial number, that would say a day outside of them says none.
    """
    found = Readings()
    for cell, many in cells:
        if isinstance(cell, bool) or not isinstance(cell, str | int | float):
            found.plain += isinstance(cell, date | datetime)
            continue
        text = str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell)
        if day_in(text, None):
            found.plain += many
            continue
        possible: dict[str, str] = {}
        for order in ORDERS:
            day = day_in(text, order)
            is_likely = order in ("day-first", "month-first") or not first_day or not last_day
            if day and (is_likely or (first_day and last_day and first_day <= day <= last_day)):
                possible[order] = day.isoformat()
        _tell(found, text, possible, many)
    return found


def numbers_readings(cells: Iterable[tuple[object, int]], places: int) -> Readings:
    """How the distinct cells of a column of numbers, of so many decimals at most, may be read."""
    found = Readings()
    for cell, many in cells:
        if not isinstance(cell, str):
            found.plain += many
            continue
        read: dict[str, str] = {sign: n for sign in SIGNS if (n := number_in(cell, sign)) is not None}
        if len(read) == 2 and len({Decimal(number) for number in read.values()}) == 1:
            found.plain += many
            continue
        # 12.505, 100.000 and 40,000 may be thousands or three decimals: the more likely one is not taken for granted.
        possible = read if len(read) == 2 else {sign: n for sign, n in read.items() if _fits(n, places)}
        _tell(found, cell, possible, many)
    return found
