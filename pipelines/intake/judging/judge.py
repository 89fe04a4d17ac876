"""What one cell may be: a value as it stands → the value it means, or what is wrong with it.

Comes in: cells (see records.Sheet) and what is known of season and troops. Goes out: typed values, a Fault or a Noted.
Each distinct value of a column is judged once (judge_column).

Why once: a column of 600,000 cells holds a few hundred distinct ones. It is encoded as a dictionary (Arrow), the
dictionary is judged in Python and the values are taken back. One judge serves a workbook's cell and a bulk table's, and
Python stays out of the loop over rows. Three decimals are never guessed in a text (1.250 is 1250 in half the world),
nor is 10² taken for 102. A bank balance without its day is told and not used. Days long before the season (registered,
opened, left, closed) are not held against the season's dates.
"""

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from decimal import Decimal
from functools import lru_cache

import pyarrow as pa

from pipelines.definitions.columns import Column, fold
from pipelines.definitions.contract import (
    ANY_DAY,
    FORMULA_STARTS,
    LONGEST,
    MOST_MINUTES,
    MOST_MONEY,
    MOST_NUMBER,
    MOST_PACKAGES,
    MOST_RATE,
    NO,
    OUTSIDE,
    OWN_PAGE,
    YES,
)
from pipelines.definitions.limits import MOST_PARTICIPANTS, MOST_SHOWN
from pipelines.definitions.records import CellFault
from pipelines.definitions.season import Season
from pipelines.intake.files.texts import composed, narrowed
from pipelines.intake.judging.codes import Codes, is_everybody, is_total


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a cell is refused: what was expected, and how to mend it."""

    expected: str
    how: str


@dataclass(frozen=True, slots=True)
class CodeFault(Fault):
    """Why a text is no participant's code. `meant`: codes that it reads like, of whatever troop; `odd`: it, of several.

    It is told to the troop whose row it stands in, and names no code of another one.
    """

    meant: tuple[str, ...] = ()
    odd: str = ""

    def told_to(self, codes: Codes, troop: object) -> Fault:
        """The same as that troop may read it."""
        expected, how = self.expected, self.how
        if own := codes.of_troop(self.meant, troop):
            expected = "a participant's code as the roster has it"
            how = f"It reads like {' or '.join(own)}: type the code as the roster has it. Where somebody else is "
            how += "meant, take in the roster with that code."
        elif example := codes.example(troop):
            expected = f"{expected} such as {example}"
        return Fault(expected, f"{self.odd}: {how}" if self.odd else how)


NO_CODE = CodeFault(
    "a participant's code",
    "Type the code, or take the row out if it is nobody's; a new code is taken in with the roster.",
)


@dataclass(frozen=True, slots=True)
class Noted:
    """A value that was understood in a way worth telling."""

    value: object
    how: str


NO_CODES = Codes()


@dataclass(frozen=True)
class Known:
    """What the book knows when a file is judged: the season, the troops' and the participants' codes."""

    season: Season
    troops: frozenset[str] = frozenset()
    defines_troops: bool = False  # a feed of troops or participants brings codes of its own
    codes: Codes = NO_CODES
    _short: dict[str, list[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for code in self.troops:
            self._short.setdefault(code.lstrip("0"), []).append(code)

    def troops_like(self, code: str) -> list[str]:
        """The known troops that `code` becomes with more leading zeros."""
        return [known for known in self._short.get(code.lstrip("0"), []) if len(known) > len(code)]


@dataclass(frozen=True, slots=True)
class Judged:
    """One column judged: its typed values, and the positions of what was refused or is worth telling."""

    values: pa.Array
    faults: dict[int, Fault]
    notes: dict[int, str]


Judge = Callable[[object], object]

# With three decimals a point may stand between thousands (1.250 is 1250 in half the world): that is never guessed.
WHOLE = re.compile(r"[+-]?[0-9]+(\.(0{0,2}|0{4,}))?")
MONEY = re.compile(r"([0-9]{1,3}(,[0-9]{3})+|[0-9]+)(\.([0-9]{1,2}|[0-9]{2}00+))?")
RATE = re.compile(r"[+-]?[0-9]+(\.[0-9]{1,4}0*)?")
CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:\.0+)?)?\s*([ap]m)?")
WORKED = re.compile(r"(.+):([0-9]{1,5})")  # a participant's code and minutes
ENDS_LIKE_MINUTES = re.compile(r":[0-9]*$")
ANSWERS = dict.fromkeys(YES, True) | dict.fromkeys(NO, False)

PACKAGES = Fault("a whole number of packages, 0 or more", "Type the number of packages, such as 12.")
PACKAGES_BACK = Fault("a whole number of packages", "Type the packages taken, such as 12, or -3 for brought back.")
TOO_MANY = Fault(f"at most {MOST_PACKAGES:,} packages", "Type the packages of this row alone.")
AMOUNT = Fault("an amount with at most two decimals, such as 1,234.50", "Type the amount in digits, such as 1234.50.")
NEGATIVE = Fault("an amount of 0 or more", "Type the amount without a minus sign.")
TOO_MUCH = Fault(f"an amount of at most {MOST_MONEY:,}", "Type the amount of this row alone.")
DAY = Fault("a date, as a date cell or as 2027-02-14", "Type the date as year-month-day, such as 2027-02-14.")
CLOCK_TIME = Fault("a time of day, such as 09:30", "Type the hour and minute, such as 09:30, or leave it empty.")
NUMBERS = Fault(f"whole numbers from 1 to {MOST_NUMBER}", "Type the numbers of what is done, such as 1, 3, 4.")
FILLED = Fault("a value", "Fill this cell in.")


def text_of(cell: object) -> str:
    """A cell as text: spaces at the ends cut, full-width marks narrowed, 417.0 as 417, a date as ISO 8601."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell.strip() if cell.isascii() else composed(cell).replace("\u00a0", " ").strip()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(sep=" ")
    return str(cell)


def shown(cell: object) -> str:
    """A cell as a finding quotes it."""
    text = str(cell) if isinstance(cell, CellFault) else text_of(cell)
    return text if len(text) <= MOST_SHOWN else text[: MOST_SHOWN - 1] + "…"


def _digits(cell: object) -> str:
    """A number written as text, in plain digits: full-width ones narrowed, spaces at the ends cut."""
    return narrowed(str(cell)).strip()


def judge_packages(cell: object, *, lowest: int = 0, wrong: Fault = PACKAGES) -> object:
    """A whole number of packages, as int."""
    if isinstance(cell, str):
        digits = _digits(cell)
        if not WHOLE.fullmatch(digits) or len(digits) > 20:
            return wrong
        number = int(digits.split(".")[0])
    elif isinstance(cell, bool) or not isinstance(cell, int | float | Decimal) or cell != cell // 1:
        return wrong
    else:
        number = int(cell)
    if number < lowest:
        return wrong
    return number if abs(number) <= MOST_PACKAGES else TOO_MANY


def judge_packages_back(cell: object) -> object:
    """A whole number of packages, negative for brought back."""
    return judge_packages(cell, lowest=-MOST_PACKAGES - 1, wrong=PACKAGES_BACK)


def _amount(cell: object) -> Decimal | None:
    if isinstance(cell, bool):
        return None
    if isinstance(cell, int | Decimal):
        exact = Decimal(cell)
        return exact if exact.is_finite() and exact == round(exact, 2) else None
    if isinstance(cell, float):
        if not abs(cell) < 1e12:
            return None
        exact = round(Decimal(repr(cell)), 2)
        # A spreadsheet's sums carry noise in the last of 15 digits; anything larger is a third decimal.
        return exact if abs(Decimal(repr(cell)) - exact) < Decimal("1e-6") else None
    text = _digits(cell)
    sign = text.startswith("-")
    text = text.lstrip("-").lstrip() if sign else text
    if text and unicodedata.category(text[0]) == "Sc":
        text = text[1:].strip()
        if text.startswith("-") and not sign:
            sign, text = True, text[1:].strip()
    if not MONEY.fullmatch(text) or len(text) > 24:
        return None
    exact = round(Decimal(text.replace(",", "")), 2)
    return -exact if sign else exact


def _of_another_currency(cell: object, season: Season) -> Fault | None:
    """Where an amount is typed or shown with the sign of another currency than the season's."""
    signs = {mark for mark in cell if unicodedata.category(mark) == "Sc"} if isinstance(cell, str) else set()
    own = season.season.sign.strip()
    if signs <= {own}:
        return None
    how = f"Type the amount in {season.season.currency}, or take the sign off where it is that already."
    return Fault(f"an amount in {season.season.currency}", how)


def judge_money_signed(cell: object, season: Season) -> object:
    """An amount with at most two decimals, as Decimal."""
    if not isinstance(cell, str | int | float | Decimal):
        return AMOUNT
    if fault := _of_another_currency(cell, season):
        return fault
    amount = _amount(cell)
    if amount is None:
        return AMOUNT
    return amount if abs(amount) <= MOST_MONEY else TOO_MUCH


def judge_money(cell: object, season: Season) -> object:
    """An amount of 0 or more."""
    amount = judge_money_signed(cell, season)
    return NEGATIVE if isinstance(amount, Decimal) and amount < 0 else amount


def judge_rate(cell: object) -> object:
    """A rate for each package, at most four decimals, as Decimal."""
    text = _digits(cell) if isinstance(cell, str) else repr(cell) if isinstance(cell, float) else str(cell)
    if isinstance(cell, bool) or not RATE.fullmatch(text) or abs(Decimal(text)) > MOST_RATE:
        return Fault("a rate with at most four decimals, such as 0.05", "Type the rate for each package in digits.")
    return round(Decimal(text), 4)


def judge_day(cell: object) -> object:
    """A date cell or ISO 8601 text, as date."""
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    if isinstance(cell, str):
        text = _digits(cell)
        try:
            return datetime.fromisoformat(text).date() if len(text) > 10 else date.fromisoformat(text)
        except ValueError:
            return DAY
    return DAY


def judge_time(cell: object) -> object:
    """A time of day, as time."""
    if isinstance(cell, datetime):
        return cell.time()
    if isinstance(cell, time):
        return cell
    found = CLOCK.fullmatch(_digits(cell).lower()) if isinstance(cell, str) else None
    if not found:
        return CLOCK_TIME
    hour, minute, second, half = int(found[1]), int(found[2]), int(found[3] or 0), found[4]
    if half:
        if not 1 <= hour <= 12:
            return CLOCK_TIME
        hour = hour % 12 + (12 if half == "pm" else 0)
    return time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else CLOCK_TIME


def judge_yes_no(cell: object) -> object:
    """Yes or no, as bool."""
    answer = ANSWERS.get(text_of(cell).casefold())
    return Fault("yes or no", "Type yes or no.") if answer is None else answer


def judge_text(cell: object) -> object:
    """Text of at most 10,000 characters."""
    text = text_of(cell)
    longest = LONGEST["text"]
    return text if len(text) <= longest else Fault(f"at most {longest:,} characters", "Shorten the text.")


def judge_participant(cell: object, known: Known) -> object:
    """A participant's code as text; the troop's own page as `troop`."""
    text = text_of(cell)
    if text.casefold() == OWN_PAGE:
        return OWN_PAGE
    return _run_by_spreadsheets([text], known) or _fault_of_code(cell, text, known) or text


def _fault_of_code(cell: object, text: str, known: Known) -> Fault | None:  # noqa: PLR0911 - one line a reason
    """Why a text is taken for no participant's code; an unknown one of the roster's form is none of these."""
    codes = known.codes
    if text in codes.known or text.casefold() == OWN_PAGE:
        return None
    if len(text) > (longest := LONGEST["participant"]):
        return _too_long("a participant's code", longest)
    if is_total(text):
        return Fault("a participant's code", "Take the row of totals out: it would be counted once more.")
    if known.defines_troops:
        return None
    if is_everybody(text.split()):
        return Fault("a participant's code", "Type the code of each who is meant: nobody is guessed at.")
    if meant := codes.meant(cell):
        return replace(NO_CODE, meant=tuple(meant))
    return None if codes.may_be(text) else NO_CODE


def _too_long(what: str, longest: int) -> Fault:
    return Fault(f"{what} of at most {longest} characters", "Type the code alone.")


def judge_participants(cell: object, known: Known) -> object:
    """Codes separated by space, comma or semicolon, as a list of text; `0417-03:90` worked ninety minutes.

    A code that itself ends in a colon and digits has one more colon behind it, so that facts.stall_work can tell.
    """
    told = [one for one in re.split(r"[\s,;]+", text_of(cell)) if one]
    if len(told) > MOST_PARTICIPANTS:
        return Fault(f"at most {MOST_PARTICIPANTS} participants", "Put them in several rows, or name those who worked.")
    if fault := _run_by_spreadsheets(told, known):
        return fault
    workers = [_worker(one, known.codes) for one in told]
    for one, (code, minutes) in zip(told, workers, strict=True):
        alone = cell if len(told) == 1 and minutes is None else code
        fault = _fault_of_code(alone, code, known) or _fault_of_minutes(code, minutes, workers)
        if isinstance(fault, CodeFault) and len(told) > 1:
            return replace(fault, odd=one)
        if fault:
            return Fault(fault.expected, f"{one}: {fault.how}") if len(told) > 1 else fault
    return [
        f"{code}:{minutes}" if minutes is not None else f"{code}:" if ENDS_LIKE_MINUTES.search(code) else code
        for code, minutes in workers
    ]


def _worker(told: str, codes: Codes) -> tuple[str, int | None]:
    """A worker's code and the minutes that stand behind it."""
    if told in codes.known or not (found := WORKED.fullmatch(told)):
        return told, None
    return found[1], int(found[2])


def _fault_of_minutes(code: str, minutes: int | None, workers: list[tuple[str, int | None]]) -> Fault | None:
    if minutes is None:
        return None
    if not 1 <= minutes <= MOST_MINUTES:
        how = "Type the minutes that this participant worked, such as 90, behind the code and a colon."
        return Fault(f"from 1 to {MOST_MINUTES:,} minutes", how)
    if sum(other == code for other, _minutes in workers) > 1:
        return Fault("each participant once where minutes are told", "Add the minutes up behind one of the two.")
    return None


def _run_by_spreadsheets(codes: list[str], known: Known) -> Fault | None:
    """Where a spreadsheet would run a participant's code that is nobody's on the roster."""
    odd = {code for code in codes if code.startswith(FORMULA_STARTS)}
    if known.defines_troops or odd <= known.codes.known.keys():
        return None
    return Fault("a participant's code, which starts with a letter or digit", "Type the code as the roster has it.")


def judge_numbers(cell: object) -> object:
    """Whole numbers from 1, separated by space, comma or semicolon, as a sorted list without repeats."""
    parts = [part.removesuffix(".0") for part in re.split(r"[\s,;]+", _digits(text_of(cell))) if part]
    if not all(
        part.isascii() and part.isdecimal() and len(part) <= 3 and 1 <= int(part) <= MOST_NUMBER for part in parts
    ):
        return NUMBERS
    return sorted({int(part) for part in parts})


def judge_troop(cell: object, known: Known) -> object:
    """A known troop's code; `417` stands for `0417` where just one troop fits."""
    text = text_of(cell)
    if text in known.troops:
        return text
    alike = known.troops_like(text)
    if len(alike) == 1 and text.isascii():
        return Noted(alike[0], f"{text} was taken for {alike[0]}, the only troop it fits.")
    if known.defines_troops:
        longest = LONGEST["troop"]
        return text if len(text) <= longest else _too_long("a troop's code", longest)
    if alike:
        return Fault("a troop's code", f"Type it in full: {' or '.join(sorted(alike))} could be meant.")
    return Fault("the code of a troop that the area knows", "Correct the code, or take in the area's list of troops.")


def judge_other_troop(cell: object, known: Known) -> object:
    """Another troop's code, or `outside`."""
    return OUTSIDE if text_of(cell).casefold() == OUTSIDE else judge_troop(cell, known)


def judge_item(cell: object, season: Season, *, stocked: bool) -> object:
    """A code of the season, spelt as season.toml spells it."""
    text = text_of(cell)
    code = next((code for code in season.codes if code.casefold() == text.casefold()), None)
    if code is None:
        return Fault("an item's code of this season", f"Type one of {', '.join(season.codes)}.")
    if stocked and not season.codes[code].stocked:
        return Fault("an item that troops hold", f"{code} is never held by a troop: take this row out.")
    return code


def _dated(day: object, season: Season) -> object:
    if isinstance(day, date) and not season.first_dated <= day <= season.last_dated:
        span = f"{season.first_dated} to {season.last_dated}"
        return Fault(f"a date of this season ({span})", "Correct the date, the year above all.")
    return day


def judge_week_ending(cell: object, season: Season) -> object:
    """The day a week of the season ends on."""
    day = _dated(judge_day(cell), season)
    if isinstance(day, date) and not season.is_week_ending(day):
        return Fault(f"a {season.season.week_ends_on.capitalize()}", "Type the day on which the week ended.")
    return day


def _judge_for(column: Column, known: Known) -> Judge:  # noqa: PLR0911 - one line a kind
    season = known.season
    match column.kind:
        case "troop":
            return lambda cell: judge_troop(cell, known)
        case "other_troop":
            return lambda cell: judge_other_troop(cell, known)
        case "item" | "stocked_item":
            stocked = column.kind == "stocked_item"
            return lambda cell: judge_item(cell, season, stocked=stocked)
        case "date":
            return judge_day if column.name in ANY_DAY else lambda cell: _dated(judge_day(cell), season)
        case "week_ending":
            return lambda cell: judge_week_ending(cell, season)
        case "choice":
            choices = {fold(choice): choice for choice in column.choices}
            wrong = Fault(f"one of {', '.join(column.choices)}", f"Type one of {', '.join(column.choices)}.")
            return lambda cell: choices.get(fold(text_of(cell)), wrong)
        case "money" | "money_noted" | "money_signed":
            judged = judge_money if column.kind == "money" else judge_money_signed
            return lambda cell: judged(cell, season)
        case "packages" | "count":
            return judge_packages
        case "participant":
            return lambda cell: judge_participant(cell, known)
        case "participants":
            return lambda cell: judge_participants(cell, known)
        case _:
            return {
                "text": judge_text,
                "packages_back": judge_packages_back,
                "rate": judge_rate,
                "time": judge_time,
                "yes_no": judge_yes_no,
                "numbers": judge_numbers,
            }[column.kind]


EMPTY: dict[str, object] = {"packages": 0, "packages_back": 0}  # what an empty cell means; of other kinds, no value


def judge_value(cell: object, column: Column, judge: Judge, *, filled: bool) -> object:
    """One cell of a column: a typed value, None, a Fault or a Noted."""
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        return FILLED if filled else EMPTY.get(column.kind)
    if isinstance(cell, CellFault):
        if cell.why == "error":
            return Fault("a value, not an error", "Mend the formula, or type the value over it.")
        return Fault("a value stored with the formula", "Open the file, recalculate and save it, or type the value.")
    return judge(cell)


@lru_cache(maxsize=64)
def arrow_type(kind: str) -> pa.DataType:
    """The Arrow type that a kind of value is kept in."""
    return {
        "participants": pa.list_(pa.string()),
        "numbers": pa.list_(pa.int32()),
        "packages": pa.int32(),
        "packages_back": pa.int32(),
        "count": pa.int32(),
        "money": pa.decimal128(12, 2),
        "money_noted": pa.decimal128(12, 2),
        "money_signed": pa.decimal128(12, 2),
        "rate": pa.decimal128(9, 4),
        "date": pa.date32(),
        "week_ending": pa.date32(),
        "time": pa.time64("us"),
        "yes_no": pa.bool_(),
    }.get(kind, pa.string())


def _distinct(cells: Sequence[object] | pa.Array) -> tuple[list[object], list[int]]:
    """The distinct cells (1, 1.0 and True are three) and, for each cell, the place of its own among them."""
    places: dict[object, int] = {}
    distinct: list[object] = []
    indices = []
    for cell in cells:
        key = cell if type(cell) is str or cell is None else (type(cell), cell)
        place = places.get(key)
        if place is None:
            place = places[key] = len(distinct)
            distinct.append(cell)
        indices.append(place)
    return distinct, indices


def judge_column(cells: Sequence[object] | pa.Array, column: Column, known: Known, *, filled: bool = False) -> Judged:
    """A whole column judged, each distinct value once; `values` is as long as `cells`, refused ones null."""
    if isinstance(cells, pa.Array):
        coded = cells.dictionary_encode(null_encoding="encode")
        distinct, indices = coded.dictionary.to_pylist(), coded.indices
    else:
        distinct, places = _distinct(cells)
        indices = pa.array(places, pa.int32())
    judge = _judge_for(column, known)
    judged = [judge_value(cell, column, judge, filled=filled) for cell in distinct]
    plain = [one.value if isinstance(one, Noted) else None if isinstance(one, Fault) else one for one in judged]
    faults: dict[int, Fault] = {}
    notes: dict[int, str] = {}
    if any(isinstance(one, Fault | Noted) for one in judged):
        for position, place in enumerate(indices.to_pylist()):
            one = judged[place]
            if isinstance(one, Fault):
                faults[position] = one
            elif isinstance(one, Noted):
                notes[position] = one.how
    return Judged(pa.array(plain, arrow_type(column.kind)).take(indices), faults, notes)
