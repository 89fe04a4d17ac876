"""Every table that may come in: its columns, the kind of value of each, its key and its unit.

Comes in: nothing. Goes out: TABLES, from which headers are matched, cells judged, landed tables made,
the form written and the schema published. A fact about what may come in stands here and nowhere else.
"""

import unicodedata
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

Kind = Literal[
    "text",  # as it is, spaces at the ends cut
    "troop",  # a troop's code, leading zeros kept
    "other_troop",  # a troop's code, or "outside"
    "participant",  # a code of the roster, or "troop"
    "participants",  # several codes, separated by space, comma or semicolon; behind a colon the minutes worked
    "item",  # a code of the season
    "stocked_item",  # a code of the season that troops hold
    "packages",  # a whole number from 0, empty = 0
    "packages_back",  # a whole number, negative = brought back, empty = 0
    "count",  # a whole number from 0, empty = not counted
    "money",  # from 0, two decimals
    "money_noted",  # negative only beside a note
    "money_signed",  # may be negative
    "rate",  # four decimals, may be negative
    "date",
    "week_ending",
    "time",
    "yes_no",
    "choice",
]

SQL_TYPES: dict[Kind, str] = {
    "text": "VARCHAR",
    "troop": "VARCHAR",
    "other_troop": "VARCHAR",
    "participant": "VARCHAR",
    "participants": "VARCHAR[]",
    "item": "VARCHAR",
    "stocked_item": "VARCHAR",
    "packages": "INTEGER",
    "packages_back": "INTEGER",
    "count": "INTEGER",
    "money": "DECIMAL(12,2)",
    "money_noted": "DECIMAL(12,2)",
    "money_signed": "DECIMAL(12,2)",
    "rate": "DECIMAL(9,4)",
    "date": "DATE",
    "week_ending": "DATE",
    "time": "TIME",
    "yes_no": "BOOLEAN",
    "choice": "VARCHAR",
}

MOST_PACKAGES = 100_000
MOST_MONEY = 10_000_000
MOST_RATE = 1000  # either way
MOST_MINUTES = 24 * 60  # that somebody works at one stall
LONGEST: dict[Kind, int] = {"text": 10_000, "troop": 30, "participant": 60}  # characters
FORMULA_STARTS = (
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\r",
)  # a text that starts so is run by spreadsheet programs that open a CSV
LONGEST_HEADER = 500  # characters that are looked at: no column is called so long
OUTSIDE = "outside"  # another area, in Moves
OWN_PAGE = "troop"  # the participant that stands for the troop's own page

ORDER_STATES: dict[str, tuple[str, ...]] = {
    "by_post": ("placed", "sent", "withdrawn"),
    "donated": ("placed", "withdrawn"),
    "by_hand": ("waiting", "taken_on", "done", "refused", "withdrawn", "given_instead"),
}
"""The states of an online order by its mode, in rank: of two on one day the one further on holds."""

REMOTE_STATES = {("by_post", "placed"), ("by_post", "sent"), ("donated", "placed"), ("by_hand", "given_instead")}
"""Packages sold that the troop never holds: charged, and paid online."""

PAID_BY_HAND_STATES = {("by_hand", "taken_on"), ("by_hand", "done")}
"""Paid online; the packages left the troop's stock when the family took them."""

REMITTANCE_STATES = ("pending", "cleared", "returned")
ARREARS = ("included", "apart")
BANK_KINDS = ("deposit", "fee", "returned_cheque", "float")
LINE_KINDS = ("deposit", "card", "collection", "remittance", "fee", "returned_cheque", "float")
YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")  # in letters of either case
ANY_DAY = ("registered_on", "left_on", "opened_on", "closed_on")  # what began long before a season


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, kind, and whether its header (`required`) or its every cell (`filled`) must be there.

    A row of a bulk table with nothing but troop and week says "nothing" and fills nothing else.
    """

    name: str
    kind: Kind
    about: str
    required: bool = False
    filled: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Table:
    """One table that may come in. `key`: one row for each; (): each row its own. `unit`: held or accepted at once."""

    name: str
    is_feed: bool
    a_row_is: str
    key: tuple[str, ...]
    unit: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def title(self) -> str:
        """As a sheet or a heading shows it."""
        return self.name.replace("_", " ").capitalize()

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @cached_property
    def folded(self) -> dict[str, str]:
        """The columns' names by their folded form."""
        return {fold(name): name for name in self.names}

    @cached_property
    def folded_own(self) -> frozenset[str]:
        """The folded names of the columns that tell this table from others: not the troop, the week or a note."""
        return frozenset(fold(name) for name in self.names if name not in ("troop", "week_ending", "note"))

    @cached_property
    def folded_required(self) -> frozenset[str]:
        """The folded names of the columns whose headers must be there."""
        return frozenset(fold(column.name) for column in self.columns if column.required)


def fold(header: object) -> str:
    """A header without case, spaces, `_`, `-` and punctuation: `On hand` and `on_hand` are one."""
    return _folded(str(header)[:LONGEST_HEADER])


@lru_cache(maxsize=10_000)
def _folded(header: str) -> str:
    text = unicodedata.normalize("NFKC", header).casefold()
    return "".join(mark for mark in text if mark.isalnum())


def must(name: str, kind: Kind, about: str, choices: tuple[str, ...] = ()) -> Column:
    """A column whose header must be there and whose every cell must be filled."""
    return Column(name, kind, about, required=True, filled=True, choices=choices)


def may(name: str, kind: Kind, about: str, choices: tuple[str, ...] = ()) -> Column:
    """A column that may be left out or left empty."""
    return Column(name, kind, about, choices=choices)


def head(name: str, kind: Kind, about: str, choices: tuple[str, ...] = ()) -> Column:
    """A column whose header must be there; its cells may be empty."""
    return Column(name, kind, about, required=True, choices=choices)


_TROOP_WEEK = (
    must("troop", "troop", "the troop's code"),
    must("week_ending", "week_ending", "the day the week ends on"),
)


def _submission(name: str, a_row_is: str, key: tuple[str, ...], *columns: Column) -> Table:
    full_key = ("troop", "week_ending", *key) if key else ()
    return Table(name, False, a_row_is, full_key, ("troop", "week_ending"), (*_TROOP_WEEK, *columns))


def _feed(name: str, a_row_is: str, key: tuple[str, ...], unit: tuple[str, ...], *columns: Column) -> Table:
    return Table(name, True, a_row_is, key, unit, columns)


COVER = Table(
    "cover",
    False,
    "a label and a value",
    ("troop", "week_ending"),
    ("troop", "week_ending"),
    (
        *_TROOP_WEEK,
        may("prepared_by", "text", "who filled it in"),
        may("prepared_on", "date", "the day it was filled in"),
        may("bank_balance", "money_noted", "the sale's account as somebody read it"),
        may("balance_on", "date", "the day the balance was read for"),
        may("note", "text", "anything the area should know"),
    ),
)

STOCK = _submission(
    "stock",
    "one stocked item",
    ("item",),
    must("item", "stocked_item", "the item's code"),
    may("received", "packages", "packages fetched or brought; compared with the supply feed, used in no figure"),
    may("damaged", "packages", "packages found damaged this week"),
    head("on_hand", "count", "packages counted at the week's end; empty = not counted"),
)

FAMILIES = _submission(
    "families",
    "what one participant took and paid",
    ("participant", "item"),
    must("participant", "participant", "the participant's code; `troop` = set aside for the troop's own page"),
    head("item", "item", "the item's code; empty on a row that carries money"),
    head("packages", "packages_back", "packages taken this week; negative = brought back"),
    may("cash", "money_noted", "cash and cheques handed in"),
    may("card", "money_noted", "whatever reaches the bank by itself, before fees"),
    may("note", "text", "needed where an amount is negative"),
)

STALLS = _submission(
    "stalls",
    "one public stall",
    ("date", "start", "place", "item"),
    must("date", "date", "the day of the stall"),
    may("start", "time", "when it opened"),
    may("end", "time", "when it closed"),
    may("place", "text", "where it stood"),
    head("item", "item", "the item's code; empty on a row that carries money"),
    head("packages", "packages", "packages sold there"),
    may("cash", "money_noted", "cash and cheques taken, without the float"),
    may("card", "money_noted", "whatever reaches the bank by itself, before fees"),
    may("gift", "money_noted", "money given without taking packages, in cash; not part of the takings"),
    may("participants", "participants", "who worked it, also of other troops; 0417-03:90 is 90 minutes"),
    may("note", "text", "needed where an amount is negative"),
)

BANKED = _submission(
    "banked",
    "one row of the bank",
    (),
    must("date", "date", "the day of it"),
    must("amount", "money_noted", "what came into the bank; a fee and a returned cheque are negative"),
    may("kind", "choice", "what it is; float = change taken out (negative) or put back; empty = deposit", BANK_KINDS),
    may("participant", "participant", "whose cheque came back; empty = one of a stall"),
    may("slip", "text", "the number on the slip"),
    may("note", "text", "needed where an amount is negative"),
)

MOVES = _submission(
    "moves",
    "packages moved between troops",
    (),
    must("date", "date", "the day they changed hands"),
    must("item", "stocked_item", "the item's code"),
    must("packages", "packages", "packages moved"),
    must("direction", "choice", "in = to this troop, out = from it", ("in", "out")),
    must("other_troop", "other_troop", "the other troop; outside = another area"),
)

GOALS = _submission(
    "goals",
    "one participant's goal",
    ("participant",),
    must("participant", "participant", "the participant's code"),
    must("goal", "packages", "packages the participant means to sell"),
)

TROOPS = _feed(
    "troops",
    "a troop",
    ("troop",),
    ("troop",),
    must("troop", "troop", "the troop's code"),
    head("level", "text", "age level"),
    may("leader", "text", "the leader's name"),
    may("email", "text", "the leader's address"),
    may("phone", "text", "the leader's number"),
    may("opened_on", "date", "from when the troop sells"),
    may("closed_on", "date", "until when"),
    may("extra_rate", "rate", "added to the proceeds' rate: a troop that takes money in place of awards"),
    may("divisor", "count", "the organisation's count for the tier; empty = counted here"),
    may("account", "text", "the last four characters of its bank account's number"),
    may("town", "text", "where the troop is at home, for moves and delivery"),
    may("spare_percent", "count", "per cent of each item that it keeps for itself in moves; 10 unless said"),
)

ROSTER = _feed(
    "roster",
    "a participant of a troop",
    ("troop", "participant"),
    ("troop", "participant"),
    must("troop", "troop", "the troop's code"),
    must("participant", "participant", "the participant's code"),
    must("registered_on", "date", "registered from this day"),
    may("left_on", "date", "the day the participant left"),
    may("contact_on_file", "yes_no", "whether a caregiver's contact is known"),
    may("household", "text", "a code that children of one household share"),
)

SUPPLY = _feed(
    "supply",
    "packages supplied to a troop",
    ("document", "troop", "item", "kind"),
    ("document",),
    must("document", "text", "the number on the receipt"),
    must("troop", "troop", "the troop's code"),
    must("item", "stocked_item", "the item's code"),
    must("date", "date", "the day they changed hands"),
    must("packages", "packages", "packages"),
    must("kind", "choice", "what was done", ("opening", "depot", "returned", "exchange")),
)

ONLINE_ORDERS = _feed(
    "online_orders",
    "an item of an online order in one state",
    ("order", "item", "state", "state_on"),
    ("order",),
    must("order", "text", "the order's number"),
    must("troop", "troop", "the troop's code"),
    head("participant", "participant", "whose page; empty or `troop` = the troop's own"),
    must("placed_on", "date", "the day it was placed"),
    must("mode", "choice", "how it reaches the buyer", tuple(ORDER_STATES)),
    must("state", "choice", "where it stands", tuple(dict.fromkeys(s for each in ORDER_STATES.values() for s in each))),
    must("state_on", "date", "since when"),
    must("item", "item", "the item's code"),
    must("packages", "packages", "packages"),
    must("goods_amount", "money", "packages times price"),
    may("shipping_amount", "money", "on the order's first row; counts in no figure"),
)

COLLECTIONS = _feed(
    "collections",
    "what the organisation will take from a troop's bank on a day",
    ("troop", "on", "announced_on"),
    ("troop", "on", "announced_on"),
    must("troop", "troop", "the troop's code"),
    must("on", "date", "the day it will be taken"),
    must("amount", "money", "how much"),
    must("announced_on", "date", "the day it was announced"),
    may("arrears", "choice", "whether what is past due is part of it, or apart; empty = not said", ARREARS),
)

REMITTANCES = _feed(
    "remittances",
    "a payment from a troop to the organisation, in one state",
    ("reference", "state", "state_on"),
    ("reference",),
    must("reference", "text", "the payment's number"),
    must("troop", "troop", "the troop's code"),
    must("date", "date", "the day it was made"),
    must("amount", "money", "how much"),
    must("state", "choice", "where it stands", REMITTANCE_STATES),
    must("state_on", "date", "since when"),
    may("reason", "text", "why it was returned"),
)

ADJUSTMENTS = _feed(
    "adjustments",
    "an amount agreed",
    ("reference",),
    ("reference",),
    must("reference", "text", "its number"),
    must("troop", "troop", "the troop's code"),
    head("participant", "participant", "if it settles a family's debt too"),
    must("date", "date", "from when"),
    must("amount", "money_signed", "positive lowers what is owed"),
    may("reason", "text", "what for"),
    may("authorised_by", "text", "by whom"),
)

ORGANISATION_BALANCE = _feed(
    "organisation_balance",
    "what the organisation's own books say",
    ("troop", "on"),
    ("troop", "on"),
    must("troop", "troop", "the troop's code"),
    must("on", "date", "the day"),
    must("owed", "money_signed", "owed by the troop"),
)

PAGES = _feed(
    "pages",
    "a participant's page on a day",
    ("troop", "participant", "on"),
    ("troop", "participant", "on"),
    must("troop", "troop", "the troop's code"),
    must("participant", "participant", "the participant's code"),
    must("on", "date", "the day"),
    must("page_open", "yes_no", "whether the page can be seen"),
    may("picture", "choice", "what it shows", ("none", "photo", "video")),
    may("people_told", "count", "people the page was sent to"),
    may("steps_reached", "count", "steps of its award"),
)

LAST_SEASON = _feed(
    "last_season",
    "a troop's week of the season before",
    ("troop", "week_no"),
    ("troop", "week_no"),
    must("troop", "troop", "the troop's code"),
    must("week_no", "count", "the season's week, 1, 2, ..."),
    must("participants", "count", "registered then"),
    must("packages", "count", "packages sold up to that week"),
)

BANK_LINES = _feed(
    "bank_lines",
    "a line of a troop's bank account that is the sale's",
    ("troop", "line"),
    ("troop", "line"),
    must("troop", "troop", "the troop's code"),
    must("line", "text", "the bank's own number of it"),
    must("date", "date", "the day the bank booked it"),
    must("amount", "money_signed", "into the account; negative = out of it"),
    may("reference", "text", "the bank's or the payer's reference"),
    may("text", "text", "what the bank wrote beside it"),
    may("kind", "choice", "what it is; empty = not told", LINE_KINDS),
)

SUBMISSION_TABLES = (COVER, STOCK, FAMILIES, STALLS, BANKED, MOVES, GOALS)
FEEDS = (
    TROOPS,
    ROSTER,
    SUPPLY,
    ONLINE_ORDERS,
    COLLECTIONS,
    REMITTANCES,
    ADJUSTMENTS,
    ORGANISATION_BALANCE,
    PAGES,
    BANK_LINES,
    LAST_SEASON,
)
TABLES: dict[str, Table] = {table.name: table for table in (*FEEDS, *SUBMISSION_TABLES)}
REQUIRED_SHEETS = ("cover", "stock")
WIDE_SHEETS = ("families", "stalls")  # in a workbook: a column for each item code
# What two rows alike may both tell of: two lines of a receipt, two shelves, two payments. Of the rest there is but one.
MAY_STAND_TWICE = frozenset(
    ("stock", "families", "stalls", "moves", "supply", "online_orders", "collections", "remittances", "adjustments")
)
MONEY_COLUMNS = ("cash", "card", "gift")  # of these: they stand on a row of their own


def is_state_of(mode: str, state: str) -> bool:
    """Whether an online order of this mode can be in this state."""
    return state in ORDER_STATES.get(mode, ())
