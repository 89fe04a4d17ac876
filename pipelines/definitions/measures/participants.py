"""What is shown of each participant at a glance, and of each award; the screens make it of rows, nothing adds it up.

Comes in: the ways of declaring. Goes out: PARTICIPANTS, AWARDS, TO_BUY, PACKING, POSTAGE, in their columns' order.
"""

from dataclasses import replace

from pipelines.definitions.measures.declaring import Measure
from pipelines.definitions.measures.families import FAMILIES
from pipelines.definitions.measures.standing import TROOP

_OF_FAMILIES = {one.name: replace(one, made=None, shown=()) for one in FAMILIES}
PARTICIPANT = _OF_FAMILIES["participant"]
OPEN_PAGE, WAITS, CLOSED_PAGE = "open", "waits for a caregiver", "closed"

# fmt: off
PARTICIPANTS = (
    replace(TROOP, shown=()),
    PARTICIPANT,
    Measure("goal", "Goal", "packages", "The newest goal; 0: none is set."),
    Measure("goals_raised", "Raised", "packages", "How often a goal was followed by a higher one."),
    _OF_FAMILIES["progress"],
    Measure("made_elsewhere", "By own word", "packages",
            "What the participant says was sold apart from the troop's records. It counts towards nothing but the "
            "goal's bar, where it is marked as the participant's own word."),
    Measure("is_goal_met", "Goal met", "yes or no",
            "Whether a goal was ever met: one once met stays met when it is raised."),
    Measure("page", "Page", "text",
            "Whether the page can be seen: open, closed, or ready and waiting for a caregiver."),
    Measure("own_picture", "Own picture", "text", "Whether the page shows a picture or film of the participant's own."),
    Measure("people_told", "People told", "orders", "People the page was sent to."),
    Measure("orders", "Orders", "orders", "Online orders on the page, but for those that buyers withdrew."),
    Measure("to_answer", "To answer", "orders", "Orders that wait for a caregiver's answer."),
    _OF_FAMILIES["promised"],
    _OF_FAMILIES["taken"],
    Measure("to_fetch", "To fetch", "packages",
            "Packages promised on paper and in online orders to deliver, that the family has not fetched yet."),
    _OF_FAMILIES["owes"],
    _OF_FAMILIES["stall_credit"],
    Measure("awards", "Awards", "text", "Awards earned, and those that are one step or a few packages away."),
    Measure("told_ten", "Orders for ten told", "average", "Orders for every ten people told, on the pages counted."),
    Measure("pages", "Pages", "participants", "Pages that were sent to somebody."),
)
AWARDS = (
    replace(TROOP, shown=()),
    PARTICIPANT,
    Measure("award", "Code", "code", "The award's code in the season's rules."),
    Measure("title", "Award", "text", "The award's name."),
    Measure("steps_done", "Steps done", "orders", "Steps of the award that are done, wherever they were done."),
    Measure("steps", "Steps", "orders", "Steps that the award has."),
    _OF_FAMILIES["progress"],
    Measure("earned_on", "Earned on", "date", "The end of the week, or the day, from which it was earned."),
    Measure("handed_on", "Handed over on", "date", "The day it was handed over."),
    Measure("state", "How it stands", "text", "Earned, one away (one step, or few packages), begun, or open."),
    Measure("missing", "Missing", "text", "The steps that are missing, by number, or how many packages."),
)
TO_BUY = (
    replace(TROOP, shown=()),
    Measure("award", "Code", "code", "The award's code in the season's rules."),
    Measure("title", "Award", "text", "The award's name."),
    Measure("earned", "Earned", "participants", "Participants who earned it this season."),
    Measure("handed", "Handed over", "participants", "Of these, those who have it in hands."),
    Measure("in_stock", "In stock", "packages", "Pieces that the area has lying ready."),
    Measure("to_buy", "To buy", "packages", "Earned, less handed over, and in the area less those in stock."),
    Measure("cost", "Cost", "money", "To buy times the cost of a piece."),
)
PACKING = (
    replace(TROOP, shown=()),
    PARTICIPANT,
    Measure("order_no", "Order", "code", "The order's number; empty: promised on paper."),
    Measure("item", "Item", "code", "The item's code."),
    _OF_FAMILIES["packages"],
    Measure("to_fetch", "To fetch", "packages", "Of these, those still to be fetched from the troop."),
)
POSTAGE = (
    Measure("order_no", "Order", "code", "The order's number."),
    replace(TROOP, shown=()),
    Measure("placed_on", "Placed on", "date", "The day it was placed."),
    _OF_FAMILIES["packages"],
    Measure("zone", "Goes", "text", "Near or far."),
    Measure("asked", "Postage asked", "money", "What the organisation asked for postage."),
    Measure("ours", "By the season's tiers", "money", "What the season's tiers of postage come to."),
    Measure("differs", "Differs", "money",
            "Asked, less what the tiers come to. It is in no figure and no troop is asked for it."),
)
