"""Where every dollar is: the places, in the order in which papers name them.

Comes in: a row of measures.standing or measures.area. Goes out: the places with their amounts, and what they add up to.
"""

from decimal import Decimal

from pipelines.definitions.measures import columns
from pipelines.reports.week import Row

ALL = ("available_value", "remote_value")  # what the places add up to
PLACES = tuple(name for name in columns("standing", "places") if name not in ALL)
STAND_OUT = ("damaged_value", "missing_value", "stall_short")  # what deserves a look wherever it is not nil
TOTAL_LABEL = "All packages answered for, at their price"


def total(row: Row) -> Decimal:
    """What the places add up to: packages available at their price, and goods posted and donated."""
    return Decimal(sum(row[name] for name in ALL))
