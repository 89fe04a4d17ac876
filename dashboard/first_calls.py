"""Whom to call first: a short list of troops, each with what it is about and how much is at stake.

Comes in: the standing of every troop as of a week. Goes out: calls, the most pressing first. The rule is plain: what is
past due or may not be covered, by the larger of the two; then weeks that are not sent, by the packages on hand.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from dashboard import words

MOST = 5
NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Call:
    """One troop to call, with every reason for it, so that one call settles them all."""

    troop: str
    reasons: tuple[str, ...]
    at_stake: Decimal
    next_step: str


def first_calls(standing: Iterable[dict[str, Any]], currency: str, most: int = MOST) -> list[Call]:
    """The troops to call first, the most pressing one at the top; fewer than `most` where fewer need a call."""
    pressing = []
    for row in standing:
        short = max(-row["cover"], NOTHING)
        at_stake = max(row["past_due"], short)
        reasons = _reasons(row, short, currency)
        if reasons and (at_stake > 0 or not row["submitted"]):
            order = (at_stake <= 0, -at_stake, -row["on_hand_value"], row["troop"])
            stake = at_stake if at_stake > 0 else row["on_hand_value"]
            pressing.append((order, Call(row["troop"], tuple(reasons), stake, _next_step(row, short))))
    return [call for _order, call in sorted(pressing, key=lambda one: one[0])[:most]]


def _reasons(row: dict[str, Any], short: Decimal, currency: str) -> list[str]:
    reasons = []
    if row["past_due"] > 0:
        reasons.append(f"{words.money(row['past_due'], currency)} past due, {_age(row)}")
    if short > 0:
        on = f" of {words.day(row['next_due_on'])}" if row["next_due_on"] else ""
        reasons.append(f"the collection{on} may not be covered: {words.money(short, currency)} short")
    if not row["submitted"]:
        reasons.append("this week is not sent")
    if row["not_banked"] > 0 and (row["past_due"] > 0 or short > 0):
        reasons.append(f"{words.money(row['not_banked'], currency)} in cash not banked")
    if row["missing"] > 0:
        reasons.append(f"{words.plural(row['missing'], 'package')} not accounted for")
    return reasons


def _age(row: dict[str, Any]) -> str:
    for name, told in (
        ("past_due_over_30", "for over 30 days"),
        ("past_due_15_30", "for 15 to 30 days"),
        ("past_due_8_14", "for 8 to 14 days"),
    ):
        if row[name] > 0:
            return told
    return "for up to 7 days"


def _next_step(row: dict[str, Any], short: Decimal) -> str:
    if row["not_banked"] > 0 and (row["past_due"] > 0 or short > 0):
        return "Ask when the cash will be banked, and when the rest can be paid."
    if row["past_due"] > 0:
        return "Ask what stands in the way, and when it can be paid."
    if short > 0:
        return "Ask whether more will be in the bank by then."
    return "Ask for this week's workbook."
