"""Whom to call first: exceptions ranked, one troop's together, and what to say to its leader.

Comes in: rows of follow_up.exceptions of one day, rows of facts.troops. Goes out: the rows in order; a short list of
calls, each with a reason, an amount and a text that can be said or sent.

An exception weighs what is at stake, or `without_amount`; ten times for act now, three for ask, once for watch; a
quarter more for each further week, up to double. A troop weighs the heaviest of each kind. RANKING says so on the
screens.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

Row = Mapping[str, Any]
MOST = 5  # calls that one evening holds
MOST_QUESTIONS = 4  # more at once are not answered
RANKING = (
    "An exception weighs what is at stake (without an amount a fixed one), ten times if it is to act now, three times "
    "if it is to ask, once if it is to watch, and a quarter more for each further week it has been open, up to double. "
    "A troop weighs the heaviest of each kind (organisation, cash, families, stock, orders, submissions, people, "
    "promises), since several may be about the same money."
)
CLOSING = (
    "A figure may be late or mistyped, on our side too; an amount that is open is no proof that anything is wrong. "
    "Thank you for everything you do for the troop."
)


@dataclass(frozen=True, slots=True)
class Call:
    """One troop to call. `amount`: what is at stake in the heaviest exception that has an amount, None where none has.

    `reason`: the heaviest exception's sentence. `rows`: all the troop's open exceptions, the heaviest first.
    """

    troop: str
    leader: str
    phone: str
    email: str
    weight: Decimal
    amount: Decimal | None
    reason: str
    next_step: str
    rows: tuple[Row, ...]
    text: str


def is_open(row: Row) -> bool:
    """Whether an exception waits for somebody: neither promised for a day to come, nor set aside, nor settled."""
    return bool(row["state"] == "open")


def weight_of(rows: Iterable[Row]) -> Decimal:
    """What a troop weighs: the heaviest of its exceptions of each kind, added up."""
    heaviest: dict[str, Decimal] = {}
    for row in rows:
        heaviest[row["about"]] = max(heaviest.get(row["about"], Decimal(0)), row["weight"])
    return sum(heaviest.values(), Decimal(0))


def by_troop(rows: Iterable[Row]) -> dict[str, list[Row]]:
    """Exceptions ranked: the troop that weighs most first, its exceptions together, the heaviest first."""
    grouped: dict[str, list[Row]] = {}
    for row in sorted(rows, key=lambda row: (-row["weight"], row["rule"], row["subject"])):
        grouped.setdefault(row["troop"], []).append(row)
    return dict(sorted(grouped.items(), key=lambda pair: (-weight_of(pair[1]), pair[0])))


def first_calls(rows: Iterable[Row], troops: Iterable[Row], title: str, as_of: date, most: int = MOST) -> list[Call]:
    """The troops to call first. Those with nothing but things to watch are called by nobody.

    `rows`: the day's exceptions; `troops`: who leads them; `title`: the season's.
    """
    people = {row["troop"]: row for row in troops}
    calls = []
    for troop, found in by_troop(row for row in rows if is_open(row)).items():
        if all(row["severity"] == "watch" for row in found):
            continue
        leader = people.get(troop, {})
        calls.append(
            Call(
                troop,
                leader.get("leader") or "",
                leader.get("phone") or "",
                leader.get("email") or "",
                weight_of(found),
                next((row["at_stake"] for row in found if row["at_stake"] is not None), None),
                found[0]["what"],
                found[0]["next_step"],
                tuple(found),
                text(troop, leader.get("leader") or "", found, title, as_of),
            )
        )
    return calls[:most]


def text(troop: str, leader: str, rows: Iterable[Row], title: str, as_of: date) -> str:
    """What can be said or sent to a troop's leader: facts and questions, no blame."""
    listed = list(rows)
    of_rule: dict[str, list[Row]] = {}
    for row in [row for row in listed if row["severity"] != "watch"] or listed[:1]:
        of_rule.setdefault(row["rule"], []).append(row)
    asked = list(of_rule.values())[:MOST_QUESTIONS]
    things = "one thing" if len(asked) == 1 else f"{len(asked)} things"
    opening = (
        f"Hello{f' {leader}' if leader else ''},\n"
        f"this is about {title}, troop {troop}, with the figures of the week to "
        f"{as_of.day} {as_of:%B}. I would like to go through {things} with you:"
    )
    questions = [f"- {found[0]['what']}{_more(found)} {found[0]['ask']}" for found in asked]
    return "\n\n".join((opening, "\n".join(questions), CLOSING))


def _more(found: list[Row]) -> str:
    return f" It is not the only one: there {'is' if len(found) == 2 else 'are'} {len(found) - 1} more." * (
        len(found) > 1
    )
