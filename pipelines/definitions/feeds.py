"""The tables that the organisation hands the area.

Comes in: nothing. Goes out: FEEDS.
"""

from pipelines.definitions.columns import feed, head, may, must

ORDER_STATES: dict[str, tuple[str, ...]] = {
    "by_post": ("placed", "sent", "withdrawn"),
    "donated": ("placed", "withdrawn"),
    "by_hand": ("waiting", "taken_on", "done", "refused", "withdrawn", "given_instead"),
}
"""The states of an online order by its mode, in rank: of two on one day the one further on holds."""

REMITTANCE_STATES = ("pending", "cleared", "returned")
ARREARS = ("included", "apart")
LINE_KINDS = ("deposit", "card", "collection", "remittance", "fee", "returned_cheque", "float")
SLOT_STATES = ("open", "given", "given_back", "not_held")
OWN_PICTURES = ("no", "still", "film")
ZONES = ("near", "far")
OTHERWISE = ("given_instead", "withdrawn")  # states of an order that nobody answered

TROOPS = feed(
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

ROSTER = feed(
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

SUPPLY = feed(
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

ONLINE_ORDERS = feed(
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
    may("zone", "choice", "how far a posted order goes; empty = near", ZONES),
    may("otherwise", "choice", "what the buyer chose where nobody answers; empty = not told", OTHERWISE),
)

COLLECTIONS = feed(
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

REMITTANCES = feed(
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

ADJUSTMENTS = feed(
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

ORGANISATION_BALANCE = feed(
    "organisation_balance",
    "what the organisation's own books say",
    ("troop", "on"),
    ("troop", "on"),
    must("troop", "troop", "the troop's code"),
    must("on", "date", "the day"),
    must("owed", "money_signed", "owed by the troop"),
)

PAGES = feed(
    "pages",
    "a participant's page on a day",
    ("troop", "participant", "on"),
    ("troop", "participant", "on"),
    must("troop", "troop", "the troop's code"),
    must("participant", "participant", "the participant's code"),
    must("on", "date", "the day"),
    must("page_open", "yes_no", "whether the page can be seen"),
    may("waits_for_caregiver", "yes_no", "ready, but a caregiver has not yet allowed it"),
    may("own_picture", "choice", "whether it shows a picture of the participant's own", OWN_PICTURES),
    may("delivers", "yes_no", "whether buyers may choose delivery by hand"),
    may("people_told", "count", "people the page was sent to"),
)

LAST_SEASON = feed(
    "last_season",
    "a troop's week of the season before",
    ("troop", "week_no", "item"),
    ("troop", "week_no", "item"),
    must("troop", "troop", "the troop's code"),
    must("week_no", "count", "the season's week, 1, 2, ..."),
    must("participants", "count", "registered then"),
    must("packages", "count", "packages sold up to that week"),
    may("item", "text", "the item's code of that season; empty = all items"),
)

BANK_LINES = feed(
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

AWARDS_BEFORE = feed(
    "awards_before",
    "an award earned in an earlier season",
    ("troop", "participant", "award"),
    ("troop", "participant", "award"),
    must("troop", "troop", "the troop's code"),
    must("participant", "participant", "the participant's code"),
    must("award", "text", "the award's code"),
)

PLACES = feed(
    "places",
    "a place where stalls may stand",
    ("place",),
    ("place",),
    must("place", "text", "the place's code"),
    head("title", "text", "what people call it"),
    may("town", "text", "where it is"),
    may("from_on", "date", "the first day of the permission"),
    may("until_on", "date", "the permission's last day"),
    may("prime", "yes_no", "a place or hour that everybody wants"),
)

PLACES_BEFORE = feed(
    "places_before",
    "how the stalls of a place did in the season before",
    ("place",),
    ("place",),
    must("place", "text", "the place's code"),
    must("stalls", "count", "how many stood there"),
    must("middle_takings", "money", "the middle takings of one"),
    may("middle_takings_an_hour", "money", "the middle takings of an hour"),
)

SLOTS = feed(
    "slots",
    "hours at a place, in one state",
    ("slot", "state", "state_on"),
    ("slot",),
    must("slot", "text", "the slot's code"),
    must("place", "text", "the place's code"),
    must("date", "date", "the day"),
    must("start", "time", "from"),
    must("end", "time", "until"),
    head("troop", "troop", "who has it; empty = free"),
    must("state", "choice", "where it stands", SLOT_STATES),
    must("state_on", "date", "since when"),
)

WISHES = feed(
    "wishes",
    "a slot that a troop wishes for",
    ("troop", "rank"),
    ("troop",),
    must("troop", "troop", "the troop's code"),
    must("rank", "count", "1 = wished for most"),
    must("slot", "text", "the slot's code"),
)

VEHICLES = feed(
    "vehicles",
    "a vehicle on the day of delivery",
    ("vehicle",),
    ("vehicle",),
    must("vehicle", "text", "what it is called"),
    must("cases", "count", "how many cases it carries"),
)

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
    AWARDS_BEFORE,
    BANK_LINES,
    PLACES,
    PLACES_BEFORE,
    SLOTS,
    WISHES,
    VEHICLES,
    LAST_SEASON,
)
