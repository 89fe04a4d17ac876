"""What every paper of a week reads: its figures, its season, and how amounts are written.

Comes in: Figures, a Season, a day. Goes out: a Week, whose rows are fetched once and shared by all papers.
"""

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from copy import copy
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

from pipelines.definitions.season import Season
from pipelines.figures.figures import Figures, Relation
from pipelines.store.book import Book

Row = dict[str, Any]
MINUS = "\N{MINUS SIGN}"

WITHOUT_DECIMALS = ("CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF", "XPF")  # ISO 4217, from memory
LETTER_CURRENCIES = ("USD", "CAD")
COINS = {
    "USD": "dollar",
    "CAD": "dollar",
    "AUD": "dollar",
    "NZD": "dollar",
    "EUR": "euro",
    "GBP": "pound",
    "JPY": "yen",
}


@dataclass
class Week:
    """One week (or any day) of a season, as known on a time; made for one roll-up and thrown away with it.

    `known_on`: UTC; the landing of the newest file that the figures rest on, None where nothing has landed.
    `statements`: those already begun, by troop; the letters that they go with ask for them too. `book`: whose
    landed files are read again for copies of what is held. `for_organisation`: without families, codes and notes.
    `closed`: of each troop that is closed the newest landing that counts for it, and the season's rules of then.
    """

    figures: Figures
    season: Season
    as_of: date
    known_on: datetime | None = None
    with_families: bool = True
    statements: dict[str, Future[Callable[[], bytes]]] = field(default_factory=dict)
    book: Book | None = None
    for_organisation: bool = False
    closed: Mapping[str, tuple[datetime | None, Season]] = field(default_factory=dict)

    def as_closed(self, troop: str) -> "Week":
        """The week as a troop's papers tell it: of one that is closed by the rules, and as known, when it closed."""
        if troop not in self.closed:
            return self
        one = copy(self)
        one.known_on, one.season = self.closed[troop]
        one.closed = {}
        for name in ("items", "earlier"):  # what the season's rules sort and choose
            one.__dict__.pop(name, None)
        return one

    @cached_property
    def standing(self) -> dict[str, Row]:
        """Each troop's standing on the day, by its code, in order."""
        return {row["troop"]: row for row in self.figures.rows("standing", self.as_of)}

    @cached_property
    def earlier(self) -> dict[str, list[Row]]:
        """Each troop's standings at the ends of weeks up to the day, oldest first."""
        rows = (row for row in self.figures.rows("standing") if row["as_of"] <= self.as_of)
        is_week = self.season.is_week_ending
        return _by_troop([row for row in rows if is_week(row["as_of"]) or row["as_of"] == self.as_of])

    @cached_property
    def items(self) -> dict[str, list[Row]]:
        """Each troop's items, in the season's order."""
        place = {code: number for number, code in enumerate(self.season.codes)}
        known = sorted(self._rows("items"), key=lambda row: (row["troop"], place.get(row["item"], len(place))))
        return _by_troop(known)

    @cached_property
    def families(self) -> dict[str, list[Row]]:
        """Each troop's families, by participant."""
        return _by_troop(self._rows("families"))

    @cached_property
    def one_away(self) -> dict[str, list[Row]]:
        """Each troop's participants who are one step, or few packages, away from an award."""
        return _by_troop([row for row in self._rows("awards") if row["state"] == "one away"])

    @cached_property
    def dues(self) -> dict[str, list[Row]]:
        """Each troop's due dates, oldest first."""
        return _by_troop(self._rows("dues"))

    @cached_property
    def dues_seen(self) -> dict[tuple[str, date], Row]:
        """Of due dates that lines of the bank tell of: whether and when the bank saw the payment."""
        return {(row["troop"], row["due_on"]): row for row in self._rows("dues_seen")}

    @cached_property
    def account_lines(self) -> dict[str, list[Row]]:
        """The lines between each troop and the organisation up to the day, in order."""
        rows = self.figures.evidence("statement_lines", None, self.as_of).to_pylist()
        return _by_troop([row for row in rows if not row["party"]])

    @property
    def begins_after(self) -> date:
        """The last day before the week that the day lies in."""
        return self.season.week_ending(self.week_no) - timedelta(days=7)

    @cached_property
    def steps(self) -> dict[str, Row]:
        """How far each troop's participants have come."""
        return {row["troop"]: row for row in self._rows("steps")}

    @cached_property
    def area(self) -> Row:
        """The whole area on the day; empty for a viewer who may not see all of it."""
        return next(iter(self._rows("area")), {})

    @cached_property
    def area_weeks(self) -> list[Row]:
        """The whole area at the ends of weeks up to the day, oldest first."""
        rows = (row for row in self.figures.rows("area") if row["as_of"] <= self.as_of)
        return [row for row in rows if self.season.is_week_ending(row["as_of"]) or row["as_of"] == self.as_of]

    @cached_property
    def item_totals(self) -> list[Row]:
        """The whole area's packages of each item, in the season's order."""
        return self._rows("item_totals")

    @cached_property
    def troops(self) -> dict[str, Row]:
        """What is known of each troop: level, leader, email, phone, by its code."""
        return {row["troop"]: row for row in self.figures.facts("troops")}

    @cached_property
    def exceptions(self) -> dict[str, list[Row]]:
        """Each troop's things to follow up that nobody has settled or set aside, the most pressing first."""
        rows = [row for row in self._rows("exceptions") if row["state"] in ("open", "promised")]
        return _by_troop(sorted(rows, key=lambda row: (-row["weight"], row["rule"], row["subject"])))

    def promises(self, troop: str) -> list[Row]:
        """What the troop has promised and the day of which has not come yet, the nearest first."""
        rows = [row for row in self.exceptions.get(troop, []) if row["state"] == "promised"]
        return sorted(rows, key=lambda row: (row["until_on"], row["rule"], row["subject"]))

    @property
    def week_no(self) -> int:
        """The season's week the day lies in."""
        return self.season.week_number(self.as_of)

    @property
    def season_title(self) -> str:
        """The season's title."""
        return self.season.season.title

    @property
    def name(self) -> str:
        """The week and its day in words: week 6, as of Sunday 21 March 2027."""
        return f"week {self.week_no}, as of {day(self.as_of, weekday=True)}"

    @property
    def label(self) -> str:
        """The week and its last day in few words: week 6 (to 21 March)."""
        return self.label_of(self.as_of)

    def label_of(self, end: date) -> str:
        """The same of the week that ends on another day."""
        return f"week {self.season.week_number(end)} (to {short_day(end)})"

    @property
    def coin(self) -> str:
        """The currency's unit in words: dollar, euro, pound; else unit of money."""
        return COINS.get(self.season.season.currency, "unit of money")

    @property
    def paper(self) -> str:
        """The paper of the currency's country: us-letter or a4."""
        return paper_of(self.season.season.currency)

    @property
    def sign(self) -> str:
        """The currency's sign, or its code and a space where it has none of its own."""
        return self.season.season.sign

    def money(self, amount: Decimal) -> str:
        """An amount as people read it: $1,234.50; a minus sign stands before the currency's."""
        return f"{MINUS if amount < 0 else ''}{self.sign}{self.digits(abs(amount))}"

    def digits(self, amount: Decimal) -> str:
        """An amount without a sign of currency; without decimals where neither the currency nor the amount has any."""
        has_none = self.season.season.currency in WITHOUT_DECIMALS and amount == amount.to_integral_value()
        return f"{amount:,.0f}" if has_none else f"{amount:,.2f}"

    def rate(self, exact: Decimal) -> str:
        """An amount for a package: $0.75, with up to four decimals where it has them."""
        has_none = self.season.season.currency in WITHOUT_DECIMALS and exact == exact.to_integral_value()
        return f"{self.sign}{exact:,.0f}" if has_none else f"{self.sign}{rate(exact)}"

    def _rows(self, relation: Relation) -> list[Row]:
        return self.figures.rows(relation, self.as_of)


def paper_of(currency: str) -> str:
    """The paper of a currency's country: us-letter or a4."""
    return "us-letter" if currency in LETTER_CURRENCIES else "a4"


def money(amount: Decimal, sign: str) -> str:
    """An amount as people read it: $1,234.50; a minus sign stands before the currency's."""
    return f"{MINUS if amount < 0 else ''}{sign}{abs(amount):,.2f}"


def lowest_cover(row: Row) -> Decimal:
    """What the bank would hold at the worst: where it is not known whether a collection includes what is past due."""
    return Decimal(min(one for one in (row["cover"], row["cover_if_apart"]) if one is not None))


def past_due_in(row: Row) -> Decimal:
    """What of an estimate of the next due is past due already; 0 where it is announced."""
    return min(row["past_due"], row["next_due"]) if row["next_due_is_estimate"] and row["next_due"] else Decimal(0)


def day(value: date, *, weekday: bool = False) -> str:
    """A day as people read it: 21 March 2027, or Sunday 21 March 2027."""
    return f"{value:%A} {value.day} {value:%B %Y}" if weekday else f"{value.day} {value:%B %Y}"


def named_day(value: date) -> str:
    """A day of this season by its name: Friday 26 March."""
    return f"{value:%A} {value.day} {value:%B}"


def instant(at: datetime) -> str:
    """A time as people write it where this is made: 21 March 2027, 20:14; `at` is UTC without a zone."""
    here = at.replace(tzinfo=UTC).astimezone()
    return f"{day(here.date())}, {here:%H:%M}"


def one_line(said: str) -> str:
    """A text on one line: a line break in a name must not start a line, or a header, of its own."""
    return " ".join("".join(mark if mark.isprintable() else " " for mark in said).split())


def short_day(value: date) -> str:
    """A day of this season: 21 March."""
    return f"{value.day} {value:%B}"


def packages(number: int, *, word: bool = True) -> str:
    """A number of packages: 1 package, 1,204 packages; the minus sign is a real one."""
    shown = f"{number:,}".replace("-", MINUS)
    return f"{shown} package{'' if abs(number) == 1 else 's'}" if word else shown


def rate(exact: Decimal) -> str:
    """A rate for a package: two decimals, up to four where it has them."""
    return f"{exact:.2f}" if exact == round(exact, 2) else f"{exact:.4f}".rstrip("0")


def per_cent(share: float | None) -> str:
    """A share in whole per cent, empty where there is none."""
    return "" if share is None else f"{share:.0%}".replace("-", MINUS)


def file_name(troop: str) -> str:
    """A troop's code as a file's name: everything but letters, digits, - and _ written as its code point."""
    return "".join(mark if mark.isalnum() or mark in "-_" else f"({ord(mark):x})" for mark in troop)


def _by_troop(rows: list[Row]) -> dict[str, list[Row]]:
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row["troop"], []).append(row)
    return grouped
