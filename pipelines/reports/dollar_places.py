"""Where every dollar is: the places, in the order in which papers name them.

Comes in: a row of measures.standing or measures.area. Goes out: the places with their amounts, and what they add up to.
"""

from decimal import Decimal

from pipelines.definitions.measures import columns
from pipelines.reports.week import Row

ALL = ("available_value", "remote_value", "gifts")  # what the places add up to
SELDOM = ("float_out", "bank_fees")  # named only where there is something
PLACES = tuple(name for name in columns("standing", "places") if name not in ALL)
STAND_OUT = ("damaged_value", "missing_value", "stall_short")  # what deserves a look wherever it is not nil


def places(row: Row) -> tuple[str, ...]:
    """The places of a row, in order: all of them, but for those seldom used where they hold nothing."""
    return tuple(name for name in PLACES if name not in SELDOM or row[name])


def total_label(row: Row) -> str:
    """What the total is of."""
    return f"All packages answered for, at their price{', and gifts' if row['gifts'] else ''}"


def total(row: Row) -> Decimal:
    """What the places add up to: packages available at their price, goods posted and donated, gifts."""
    return Decimal(sum(row[name] for name in ALL))
