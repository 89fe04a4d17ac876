"""The sheets of a troop's submission, which in bulk are tables of their own.

Comes in: nothing. Goes out: SUBMISSION_TABLES.
"""

from pipelines.definitions.columns import TROOP_WEEK, Table, head, may, must, submission

BANK_KINDS = ("deposit", "fee", "returned_cheque", "float")

COVER = Table(
    "cover",
    False,
    "a label and a value",
    ("troop", "week_ending"),
    ("troop", "week_ending"),
    (
        *TROOP_WEEK,
        may("prepared_by", "text", "who filled it in"),
        may("prepared_on", "date", "the day it was filled in"),
        may("bank_balance", "money_noted", "the sale's account as somebody read it"),
        may("balance_on", "date", "the day the balance was read for"),
        may("note", "text", "anything the area should know"),
    ),
)

STOCK = submission(
    "stock",
    "one stocked item",
    ("item",),
    must("item", "stocked_item", "the item's code"),
    may(
        "received",
        "packages",
        "packages fetched or brought; compared with what the organisation says it supplied, used in no figure",
    ),
    may("damaged", "packages", "packages found damaged this week"),
    head("on_hand", "count", "packages counted at the week's end; empty = not counted"),
)

FAMILIES = submission(
    "families",
    "what one participant took and paid",
    ("participant", "item"),
    must("participant", "participant", "the participant's code; `troop` = set aside for the troop's own page"),
    head("item", "item", "the item's code; empty on a row that carries money"),
    head("packages", "packages_back", "packages taken this week; negative = brought back"),
    may("cash", "money_noted", "cash and cheques handed in"),
    may("card", "money_noted", "card money into the troop's own bank, before fees; not what buyers paid online"),
    may("note", "text", "needed where an amount is negative"),
)

STALLS = submission(
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
    may("card", "money_noted", "card money into the troop's own bank, before fees; not what buyers paid online"),
    may("gift", "money_noted", "money given without taking packages, in cash; not part of the takings"),
    may("participants", "participants", "who worked it, also of other troops; 0417-03:90 is 90 minutes"),
    may("note", "text", "needed where an amount is negative"),
)

BANKED = submission(
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

MOVES = submission(
    "moves",
    "packages moved between troops",
    (),
    must("date", "date", "the day they changed hands"),
    must("item", "stocked_item", "the item's code"),
    must("packages", "packages", "packages moved"),
    must("direction", "choice", "in = to this troop, out = from it", ("in", "out")),
    must("other_troop", "other_troop", "the other troop; outside = another area"),
)

GOALS = submission(
    "goals",
    "one participant's goal",
    ("participant",),
    must("participant", "participant", "the participant's code"),
    must("goal", "packages", "packages the participant means to sell"),
    may("made_elsewhere", "packages", "packages sold apart from the troop's records, by the participant's own word"),
)

PROMISED = submission(
    "promised",
    "packages that one participant promised on paper orders, in all so far",
    ("participant", "item"),
    must("participant", "participant", "the participant's code"),
    head("item", "item", "the item's code; empty where nothing is promised any more"),
    head("packages", "packages", "packages promised, in all so far; a later week's row replaces it"),
)

AWARDS = submission(
    "awards",
    "one participant and award",
    ("participant", "award"),
    must("participant", "participant", "the participant's code"),
    must("award", "text", "the award's code of this season"),
    may("steps", "numbers", "the numbers of the steps done, wherever they were done"),
    may("handed_on", "date", "the day it was handed over"),
)

SUBMISSION_TABLES = (COVER, STOCK, FAMILIES, STALLS, BANKED, MOVES, GOALS, PROMISED, AWARDS)
