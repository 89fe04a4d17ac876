"""Figures as people read them: money, packages, shares, days, and sentences made of them.

Comes in: exact values. Goes out: plain text, or Markdown where the name says so. Nothing is rounded before it is shown.
"""

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

SIGNS = {"USD": "$", "EUR": "€", "GBP": "£", "JPY": "¥"}  # ISO 4217; others go by their code
CENT = Decimal("0.01")
NOTHING = "not known yet"
# An address in a text would become a link, whatever is escaped: it is told by its text once that is unescaped.
_ADDRESS = re.compile(r"(?<=https:/)(?=/)|(?<=http:/)(?=/)|(?<=www)(?=\.)|(?<=[\w.+-]@)(?=\w)", re.IGNORECASE)
JOINER = "\u2060"  # is not seen, and breaks no line
_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>~$:&])")


def money(amount: Decimal | None, currency: str = "USD") -> str:
    """`$1,234.50`; negative `-$1,234.50`."""
    if amount is None:
        return NOTHING
    exact = amount.quantize(CENT, ROUND_HALF_UP)
    sign = SIGNS.get(currency, f"{currency} ")
    return f"{'-' if exact < 0 else ''}{sign}{abs(exact):,.2f}"


def number(count: int | float | Decimal | None, decimals: int = 0) -> str:
    """`41,208`; with decimals rounded half away from zero."""
    if count is None:
        return NOTHING
    exact = Decimal(repr(count) if isinstance(count, float) else count)
    shown = exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    return f"{abs(shown) if shown == 0 else shown:,f}"


def percent(share: float | None, decimals: int = 0) -> str:
    """`61 %`."""
    return NOTHING if share is None else f"{number(Decimal(repr(share)) * 100, decimals)} %"


def of(part: int, whole: int, share: float | None = None) -> str:
    """`12 of 17`, with its share where there is one: `12 of 17 (71 %)`."""
    told = f"{number(part)} of {number(whole)}"
    return told if share is None else f"{told} ({percent(share)})"


def plural(count: int, one: str, many: str = "") -> str:
    """`1 troop`, `5 troops`."""
    return f"{number(count)} {one if count == 1 else many or one + 's'}"


def cases(packages: int, packages_per_case: int) -> str:
    """`1,204 (100 cases and 4)`: packages, and full cases with what is left over in brackets."""
    full, rest = divmod(abs(packages), packages_per_case)
    if not full:
        return number(packages)
    return f"{number(packages)} ({plural(full, 'case')}{f' and {rest}' if rest else ''})"


def day(when: date) -> str:
    """`Sun 21 Mar`."""
    return f"{when:%a} {when.day} {when:%b}"


def full_day(when: date) -> str:
    """`Sunday 21 March 2027`."""
    return f"{when:%A} {when.day} {when:%B} {when.year}"


def instant(at: datetime) -> str:
    """`25 Nov 2026, 08:45`, by this machine's clock; `at` is UTC without a zone."""
    here = at.replace(tzinfo=UTC).astimezone()
    return f"{here.day} {here:%b %Y, %H:%M}"


def short_instant(at: datetime) -> str:
    """`Tue 16 Mar, 20:14`, by this machine's clock; `at` is UTC without a zone."""
    here = at.replace(tzinfo=UTC).astimezone()
    return f"{day(here)}, {here:%H:%M}"


def instants(times: Sequence[datetime]) -> list[str]:
    """The same of several times, each told from the others: with seconds and parts of them where need be."""
    here = [at.replace(tzinfo=UTC).astimezone() for at in times]
    for finer in ("%b %Y, %H:%M", "%b %Y, %H:%M:%S", "%b %Y, %H:%M:%S.%f"):
        told = [f"{at.day} {at:{finer}}" for at in here]
        if len(set(told)) == len(set(here)):
            break
    return told


def last_day_to_bank(due_on: date) -> date:
    """The last day from Monday to Friday before a due date: what is banked later may arrive too late.

    Common practice, no source. Bank holidays are not known here.
    """
    before = due_on - timedelta(days=1)
    while before.weekday() > 4:
        before -= timedelta(days=1)
    return before


def listed(names: Sequence[str], most: int = 8) -> str:
    """`0206, 0417 and 1282`; a long list ends with how many more."""
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part) if names else "none"


def drawn(troops: int, most: int, which: str) -> str:
    """Which troops a chart shows, where it cannot show all."""
    return f" Drawn are the {most} troops with {which}; all {troops:,} are in the table below." if troops > most else ""


def plain(text: object) -> str:
    """Text from outside, so that Markdown shows it as it is; an address in it becomes no link."""
    return _MARKS.sub(r"\\\1", _ADDRESS.sub(JOINER, str(text)))


def aside(text: str) -> str:
    """A quieter line, as Markdown; unlike a caption its links stay readable."""
    return f":small[:gray[{plain(text)}]]"


def bold(text: str) -> str:
    """A figure in a sentence, as Markdown."""
    return f"**{plain(text)}**"


def cover_said(row: dict[str, Any]) -> str:
    """Whether a troop's bank covers what is being collected and the next due, of a row of standing."""
    if row["next_due_on"] is None and row["being_collected"] == 0:
        return "nothing ahead"
    if row["cover"] < 0:
        return "may not be covered"
    is_unsure = row["cover_if_apart"] is not None and row["cover_if_apart"] < 0
    return "covered, but not with what is past due" if is_unsure else "covered"
