"""What waits for a leader, and by when: orders to answer, the day it is, texts to send on.

Comes in: readings, a troop. Goes out: rows and texts. The day is the latest published, or the clock's once the season's
clock has gone past it, so that an order of this morning is not waited for until Sunday.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import words
from pipelines.definitions.contract import OWN_PAGE
from pipelines.store.book import now

CHOICES = {"given_instead": "given away", "withdrawn": "called off, and the buyer gets the money back"}
NOT_KNOWN = "what the buyer chose is not known here"


@dataclass(frozen=True, slots=True)
class Waiting:
    """An order that waits for a caregiver's answer. `left`: days until its last one, below 0 once it is over."""

    row: Row
    by: datetime
    left: int

    @property
    def who(self) -> str:
        seller = self.row["seller"]
        return "the troop's own page" if seller == OWN_PAGE else str(seller)


def today(read: Readings) -> date:
    """The day it is in the season."""
    latest, rules = read.days()[-1], read.rules()
    clock = now().date()
    return clock if latest < clock <= rules["last_day"] + timedelta(weeks=1) else latest


def waiting(read: Readings, troop: str) -> list[Waiting]:
    """The orders that can still be answered, the first to lapse first."""
    here, rules = today(read), read.rules()
    found = []
    for row in read.facts("orders_to_answer", troop):
        last = row["placed_on"] + timedelta(days=rules["answer_within_days"])
        if row["placed_on"] <= here <= last:
            found.append(Waiting(row, datetime.combine(last, rules["answer_until"]), (last - here).days))
    return sorted(found, key=lambda one: (one.by, one.row["order_no"]))


def by(one: Waiting) -> str:
    """By Thursday 18:00."""
    return f"by {one.by:%A} {one.by.day} {one.by:%B}, {one.by:%H:%M}"


def otherwise(one: Waiting) -> str:
    """What becomes of the order without an answer."""
    return CHOICES.get(one.row["otherwise"] or "", NOT_KNOWN)


def reminder(one: Waiting, currency: str) -> str:
    """A text for the caregiver: on the last evening another one than before."""
    packages = words.plural(one.row["packages"], "package")
    order = f"order {one.row['order_no']} ({packages}, {words.money(one.row['goods_amount'], currency)})"
    hour = f"{one.by:%H:%M}"
    if one.left <= 1:
        when = f"this evening {hour}" if one.left == 0 else f"tomorrow {hour}"
        return (
            f"Hello, {order} on the page of {one.who} still waits for your yes or no, until {when}. Would you "
            "like us to take it over, or shall it be left? A word is enough. Thank you!"
        )
    return (
        f"Hello, somebody placed {order} on the page of {one.who} and would like it brought round. Could you look at "
        f"it and say yes or no {by(one)}? If you have no time to deliver, say so: that is fine. Thank you!"
    )
