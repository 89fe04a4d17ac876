"""Every table that may come in, and what its values may be.

Comes in: the sheets of a submission and the feeds (submissions.py, feeds.py). Goes out: TABLES, from which headers are
matched, cells judged, landed tables made, the form written and the schema published. A fact about what may come in
stands in one of these three and nowhere else.
"""

from pipelines.definitions.columns import Kind, Table
from pipelines.definitions.feeds import FEEDS, ORDER_STATES
from pipelines.definitions.submissions import SUBMISSION_TABLES

LONGEST: dict[Kind, int] = {"text": 10_000, "troop": 30, "participant": 60}  # characters
MOST_PACKAGES = 100_000
MOST_MONEY = 10_000_000
MOST_RATE = 1000  # either way
MOST_MINUTES = 24 * 60  # that somebody works at one stall
MOST_NUMBER = 100  # in a list of numbers
FORMULA_STARTS = (
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\r",
)  # a text that starts so is run by spreadsheet programs that open a CSV
OUTSIDE = "outside"  # another area, in Moves
OWN_PAGE = "troop"  # the participant that stands for the troop's own page

REMOTE_STATES = {("by_post", "placed"), ("by_post", "sent"), ("donated", "placed"), ("by_hand", "given_instead")}
"""Packages sold that the troop never holds: charged, and paid online."""

PAID_BY_HAND_STATES = {("by_hand", "taken_on"), ("by_hand", "done")}
"""Paid online; the packages left the troop's stock when the family took them."""

YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")  # in letters of either case
# What began long before a season.
ANY_DAY = ("registered_on", "left_on", "opened_on", "closed_on", "from_on", "until_on")

TABLES: dict[str, Table] = {table.name: table for table in (*FEEDS, *SUBMISSION_TABLES)}
REQUIRED_SHEETS = ("cover", "stock")
WIDE_SHEETS = ("families", "stalls", "promised")  # in a workbook: a column for each item code
# What two rows alike may both tell of: two lines of a receipt, two shelves, two payments. Of the rest there is but one.
MAY_STAND_TWICE = frozenset(
    ("stock", "families", "stalls", "moves", "supply", "online_orders", "collections", "remittances", "adjustments")
)
OF_PERSONS = ("roster", "pages", "promised", "awards", "awards_before")  # where a participant is never `troop`
MONEY_COLUMNS = ("cash", "card", "gift")  # of these: they stand on a row of their own


def is_state_of(mode: str, state: str) -> bool:
    """Whether an online order of this mode can be in this state."""
    return state in ORDER_STATES.get(mode, ())
