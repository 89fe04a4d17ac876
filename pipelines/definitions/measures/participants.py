"""What is shown of each participant at a glance, and of each award; the screens make it of rows, nothing adds it up.

Comes in: the ways of declaring. Goes out: PARTICIPANTS, AWARDS, TO_BUY, PACKING, POSTAGE, in their columns' order.
"""

from dataclasses import replace

from pipelines.definitions.measures.declaring import Measure, Own, Sum
from pipelines.definitions.measures.families import FAMILIES
from pipelines.definitions.measures.standing import TROOP

_OF_FAMILIES = {one.name: replace(one, made=None, shown=()) for one in FAMILIES}
PARTICIPANT = _OF_FAMILIES["participant"]
OPEN_PAGE, WAITS, CLOSED_PAGE = "open", "waits for a caregiver", "closed"


def page_of(*, is_open: bool, waits: bool) -> str:
    """How a page stands, in words."""
    return OPEN_PAGE if is_open else WAITS if waits else CLOSED_PAGE


def _seen(name: str) -> Measure:
    """A measure of families that a participant's row shows too."""
    return replace(_OF_FAMILIES[name], made=Own("participants", f"participants.{name}"))


# fmt: off
PARTICIPANTS = (
    replace(TROOP, shown=()),
    PARTICIPANT,
    Measure("goal", "Goal", "packages", "The newest goal; 0: none is set.",
            made=Own("participants", "participants.goal")),
    Measure("goals_raised", "Goal raised", "packages", "How often a goal was followed by a higher one.",
            made=Own("participants", "participants.goals_raised")),
    _seen("progress"),
    Measure("made_elsewhere", "By own word", "packages",
            "What the participant says was sold apart from the troop's records. It counts towards nothing but the "
            "goal's bar, where it is marked as the participant's own word.",
            made=Own("participants", "participants.made_elsewhere")),
    Measure("is_goal_met", "Goal met", "yes or no",
            "Whether a goal was ever met: one once met stays met when it is raised.",
            made=Own("participants", "participants.is_goal_met")),
    Measure("page", "Page", "text",
            "Whether the page can be seen: open, closed, or ready and waiting for a caregiver.",
            made=Own("participants", "participants.page")),
    Measure("own_picture", "Own picture", "text", "Whether the page shows a picture or film of the participant's own.",
            made=Own("participants", "participants.own_picture")),
    Measure("people_told", "People told", "orders", "People the page was sent to.",
            made=Own("participants", "participants.people_told")),
    Measure("orders", "Orders", "orders", "Online orders on the page, but for those that buyers withdrew.",
            made=Own("participants", "participants.orders")),
    Measure("to_answer", "To answer", "orders", "Orders that wait for a caregiver's answer.",
            made=Own("participants", "participants.to_answer")),
    _seen("promised"),
    replace(_seen("taken"), label="Taken, less brought back",
            meaning="Packages taken from the troop, less those brought back."),
    Measure("to_fetch", "To fetch", "packages",
            "Packages promised on paper and in online orders to deliver, that the family has not fetched yet.",
            made=Own("packing", "participants.to_fetch")),
    _seen("owes"),
    _seen("stall_credit"),
    Measure("awards", "Awards", "text", "Awards earned, and those that are one step or a few packages away."),
    Measure("told_ten", "Orders for every ten told", "average",
            "Orders for every ten people told, on the pages counted."),
    Measure("pages", "Pages", "participants", "Pages that were sent to somebody."),
)
AWARDS = (
    replace(TROOP, shown=()),
    PARTICIPANT,
    Measure("award", "Code", "code", "The award's code in the season's rules."),
    Measure("title", "Award", "text", "The award's name."),
    Measure("steps_done", "Steps done", "orders", "Steps of the award that are done, wherever they were done.",
            made=Own("awards", "awards.steps_done")),
    Measure("steps", "Steps", "orders", "Steps that the award has.", made=Own("awards", "awards.steps")),
    replace(_OF_FAMILIES["progress"], made=Own("awards", "awards.progress")),
    Measure("earned_on", "Earned on", "date", "The end of the week, or the day, from which it was earned.",
            made=Own("awards", "awards.earned_on")),
    Measure("handed_on", "Handed over on", "date", "The day it was handed over.",
            made=Own("awards", "awards.handed_on")),
    Measure("state", "How it stands", "text", "Earned, one away (one step, or few packages), begun, or open.",
            made=Own("awards", "awards.state")),
    Measure("missing", "Missing", "text", "The steps that are missing, by number, or how many packages.",
            made=Own("awards", "awards.missing")),
)
TO_BUY = (
    replace(TROOP, shown=()),
    Measure("award", "Code", "code", "The award's code in the season's rules."),
    Measure("title", "Award", "text", "The award's name."),
    Measure("earned", "Earned", "participants", "Participants who earned it this season.",
            made=Own("to_buy", "awards.earned")),
    Measure("handed", "Handed over", "participants", "Of these, those who have it in hands.",
            made=Own("to_buy", "awards.handed")),
    Measure("in_stock", "In stock", "packages", "Pieces that the area has lying ready, as the season's rules say."),
    Measure("to_buy", "To buy", "packages", "Earned, less handed over, and in the area less those in stock.",
            made=Own("to_buy", "awards.to_buy")),
    Measure("cost", "Cost", "money", "To buy times the cost of a piece.",
            made=Own("to_buy", "awards.cost")),
)
PACKING = (
    replace(TROOP, shown=()),
    PARTICIPANT,
    Measure("order_no", "Order", "code", "The order's number; empty: promised on paper."),
    Measure("item", "Item", "code", "The item's code."),
    Measure("packages", "Packages", "packages", "Packages promised on paper, or ordered, of the item.",
            made=Own("packing", "packing.packages")),
    Measure("to_fetch", "To fetch", "packages", "Of these, those still to be fetched from the troop.",
            made=Own("packing", "packing.to_fetch")),
)
POSTAGE = (
    Measure("order_no", "Order", "code", "The order's number."),
    replace(TROOP, shown=()),
    Measure("placed_on", "Placed on", "date", "The day it was placed."),
    Measure("packages", "Packages", "packages", "Packages of the order; a gift box counts as what it holds.",
            made=Own("postage", "orders.packages")),
    Measure("zone", "Near or far", "text", "Near or far.",
            made=Own("postage", "orders.zone")),
    Measure("asked", "Postage asked", "money", "What the organisation asked for postage.",
            made=Own("postage", "orders.asked")),
    Measure("ours", "By the season's tiers", "money", "What the season's tiers of postage come to.",
            made=Own("postage", "orders.ours")),
    Measure("differs", "Difference", "money",
            "Asked, less what the tiers come to. It is in no figure and no troop is asked for it.",
            made=Sum("asked", "-ours")),
)
