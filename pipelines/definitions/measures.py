"""Each measure: its label, its unit, what it means and which terms it adds up from.

Comes in: nothing. Goes out: MEASURES, read by every screen and paper. A measure is explained here and nowhere else.
"""

from dataclasses import dataclass
from typing import Literal

Unit = Literal[
    "packages",
    "money",
    "share",  # between 0 and 1; shown in per cent
    "rate",  # money for a package, four decimals
    "average",  # packages for each participant, or a week
    "participants",
    "weeks",
    "days",
    "troops",
    "orders",
    "date",
    "yes or no",
    "code",
    "text",
]


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure as people are told of it.

    `terms`: what it adds up from, each the name of a measure of the same row, with "-" in front where it is taken off.
    `divides_by`: of a ratio, what stands below the line. `caution`: what it does not say.
    """

    label: str
    unit: Unit
    meaning: str
    divides_by: str = ""
    terms: tuple[str, ...] = ()
    caution: str = ""


PEOPLE = "everyone on the roster on that day"

STANDING: dict[str, Measure] = {
    "troop": Measure("Troop", "code", "The troop's code."),
    "week_ending": Measure("Week ending", "date", "The day that the figures are as of: the last day of the week."),
    "submitted": Measure(
        "Submitted",
        "yes or no",
        "Whether stock rows of the troop are accepted for this week. A workbook that is held does not count yet.",
    ),
    "available": Measure(
        "Available",
        "packages",
        "Packages that the troop has answered for so far: supplied to it, plus moved in, less moved out. Of a "
        "donation that the troop never holds, what was handed out and sold at stalls.",
    ),
    "sold_from_stock": Measure(
        "Out of the troop's stock",
        "packages",
        "Packages that families took (less what they brought back) and packages sold at stalls. What is with "
        "families may still be unsold.",
    ),
    "remote": Measure(
        "Posted and donated",
        "packages",
        "Packages of online orders that the organisation posts or passes on. The troop never holds them.",
    ),
    "packages_sold": Measure(
        "Packages sold",
        "packages",
        "Packages out of the troop's stock plus those posted and donated. An online order that a participant "
        "delivers adds none: its packages left the stock when the family took them.",
        terms=("sold_from_stock", "remote"),
    ),
    "sell_through": Measure(
        "Sell-through",
        "share",
        "The part of the stocked packages available that has left the troop's stock.",
        divides_by="available packages of stocked items",
        terms=("stocked_sold", "stocked_available"),
    ),
    "stocked_sold": Measure(
        "Out of stock, stocked items", "packages", "Packages out of the troop's stock, of items that troops hold."
    ),
    "stocked_available": Measure(
        "Available, stocked items", "packages", "Packages available, of items that troops hold."
    ),
    "paid_through": Measure(
        "Paid through",
        "share",
        "The part of the packages' value that has become money: what families paid, each at most what it was "
        "charged, and the stalls' takings.",
        divides_by="value of the packages available",
        terms=("paid_of_charge", "stall_takings", "available_value"),
    ),
    "paid_of_charge": Measure(
        "Families paid", "money", "What families paid for the packages they took, each counted up to its charge."
    ),
    "stall_takings": Measure("Stall takings", "money", "Cash, cheques and card money taken at stalls."),
    "stall_sold_value": Measure("Sold at stalls", "money", "Packages sold at stalls, at their price."),
    "on_hand": Measure(
        "On hand",
        "packages",
        "Packages in the troop's hands: the week's count where there is one, else what should be there.",
    ),
    "missing": Measure(
        "Not accounted for",
        "packages",
        "Packages that should be on hand less packages counted. Negative: more were counted than expected. Where "
        "the week has no count it is 0 and shown as not counted.",
        caution="Most often a record is late or a figure was mistyped.",
    ),
    "available_value": Measure("Value of packages available", "money", "Packages available, at their price."),
    "remote_value": Measure(
        "Posted and donated goods",
        "money",
        "What buyers paid online for goods that were posted or donated, without shipping.",
    ),
    "on_hand_value": Measure("Packages on hand", "money", "Packages on hand, at their price."),
    "damaged_value": Measure("Damaged", "money", "Packages reported damaged and not yet exchanged, at their price."),
    "missing_value": Measure(
        "Packages not accounted for",
        "money",
        "Packages that should be on hand and were not counted, at their price.",
        caution="Most often a record is late or a figure was mistyped.",
    ),
    "families_owe": Measure(
        "Families owe",
        "money",
        "What families were charged for packages they took, less all they paid: in cash, by card, through online "
        "orders that they delivered, or settled otherwise.",
        caution="What a family owes may be with its buyers still. It is no proof of anything.",
    ),
    "stall_short": Measure(
        "Stalls short",
        "money",
        "Packages sold at stalls at their price, less the takings. Negative: more came in.",
        terms=("stall_sold_value", "-stall_takings"),
    ),
    "cash": Measure("Cash in", "money", "Cash and cheques that families handed in and that stalls took."),
    "card": Measure("Card in", "money", "Money of families and stalls that reaches the bank by itself, before fees."),
    "banked": Measure("Banked", "money", "All deposits of cash and cheques."),
    "not_banked": Measure(
        "Not banked",
        "money",
        "Cash and cheques taken in that no deposit accounts for yet.",
        terms=("cash", "-banked"),
        caution="Cash is counted by two unrelated adults and banked promptly.",
    ),
    "in_bank": Measure(
        "In the bank",
        "money",
        "The sale's money that should be in the troop's bank: deposits and card money, less what the organisation "
        "has received. The account may hold other money.",
        terms=("banked", "card", "-remitted"),
    ),
    "remitted": Measure("Remitted", "money", "Payments to the organisation that have cleared."),
    "paid_online": Measure(
        "Paid online",
        "money",
        "What buyers paid the organisation online for goods that were posted, donated or delivered by hand, "
        "without shipping.",
        terms=("remote_value", "by_hand_value"),
    ),
    "by_hand_value": Measure(
        "Paid online, delivered by hand", "money", "What buyers paid online for packages that a participant delivers."
    ),
    "settled_otherwise": Measure(
        "Settled otherwise", "money", "Adjustments that also settle what a family owes its troop."
    ),
    "charged": Measure(
        "Charged",
        "money",
        "What the organisation charges the troop: packages available at their price, plus goods posted and donated.",
        terms=("available_value", "remote_value"),
    ),
    "proceeds_rate": Measure(
        "Proceeds a package",
        "rate",
        "What the troop keeps of each package charged: the rate of the tier that its average has reached, plus "
        "its own extra rate. It can still change until the season closes.",
    ),
    "proceeds": Measure(
        "Proceeds",
        "money",
        "What the troop keeps: its rate times the packages charged. Provisional until the season closes.",
    ),
    "adjustments": Measure(
        "Adjustments", "money", "Amounts agreed with the organisation; positive lowers what is owed."
    ),
    "credits": Measure(
        "Credited",
        "money",
        "All that counts towards what the troop is charged: paid online, remitted, adjusted.",
        terms=("paid_online", "remitted", "adjustments"),
    ),
    "owed": Measure(
        "Owed",
        "money",
        "What the troop owes the organisation in all, due or not: charged, less its proceeds, less what is "
        "credited. Negative: the organisation owes the troop.",
        terms=("charged", "-proceeds", "-credits"),
        caution="An amount owed is not proof of wrongdoing.",
    ),
    "being_collected": Measure(
        "Being collected",
        "money",
        "Instalments that fell due so recently that their collection may not have cleared yet.",
    ),
    "past_due": Measure(
        "Past due",
        "money",
        "Instalments whose day has passed and that are neither paid nor being collected. Payments go to the "
        "oldest first.",
        terms=("past_due_0_7", "past_due_8_14", "past_due_15_30", "past_due_over_30"),
        caution="An amount owed is not proof of wrongdoing.",
    ),
    "past_due_0_7": Measure("Up to 7 days", "money", "The part of the past due that fell due up to 7 days ago."),
    "past_due_8_14": Measure("8 to 14 days", "money", "The part of the past due that fell due 8 to 14 days ago."),
    "past_due_15_30": Measure("15 to 30 days", "money", "The part of the past due that fell due 15 to 30 days ago."),
    "past_due_over_30": Measure("Over 30 days", "money", "The part of the past due that fell due over 30 days ago."),
    "next_due_on": Measure("Next due on", "date", "The first due date or announced collection after this day."),
    "next_due": Measure(
        "Next due",
        "money",
        "What the next due date asks for: the amount announced, else an estimate from the season's share of "
        "charged less proceeds, less what is credited or being collected.",
        caution="An estimate moves with sales until the collection is announced.",
    ),
    "bank": Measure(
        "Bank",
        "money",
        "The balance that somebody read in the last seven days; where nobody did, the sale's money that should be "
        "there.",
    ),
    "cover": Measure(
        "Cover",
        "money",
        "What the bank would hold after what is being collected and the next due. Negative: the next collection "
        "may not be covered.",
        terms=("bank", "-being_collected", "-next_due"),
        caution="Cash that is not banked yet could still cover it.",
    ),
    "registered": Measure("Registered", "participants", "Participants on the roster on that day."),
    "taking_part": Measure(
        "Taking part",
        "participants",
        "Everyone who took packages, has an online order that counts or worked at a stall, registered or not.",
    ),
    "registered_taking_part": Measure(
        "Registered and taking part",
        "participants",
        "Registered participants who took packages, have an online order that counts or worked at a stall.",
    ),
    "share": Measure(
        "Share taking part",
        "share",
        "Registered participants who take part, of all who are registered.",
        divides_by="registered participants",
        terms=("registered_taking_part", "registered"),
        caution="A small troop's share swings with every participant: read it with its limits.",
    ),
    "share_low": Measure(
        "Share, lower limit",
        "share",
        "The lower end of the share's 95 % Wilson score interval.",
        divides_by="registered participants",
    ),
    "share_high": Measure(
        "Share, upper limit",
        "share",
        "The upper end of the share's 95 % Wilson score interval.",
        divides_by="registered participants",
    ),
    "average_per_registered": Measure(
        "Average, registered",
        "average",
        "Packages sold for each registered participant.",
        divides_by="registered participants",
        terms=("packages_sold", "registered"),
    ),
    "average_per_active": Measure(
        "Average, taking part",
        "average",
        "Packages sold for each participant who takes part.",
        divides_by="participants taking part",
        terms=("packages_sold", "taking_part"),
    ),
}

ITEMS: dict[str, Measure] = {
    "item": Measure("Item", "code", "The item's code; a new price is a new code."),
    "supplied": Measure("Supplied", "packages", "Opening order and depot packages, less those taken back."),
    "moved_in": Measure("Moved in", "packages", "Packages that came from other troops."),
    "moved_out": Measure("Moved out", "packages", "Packages given to other troops."),
    "available": Measure(
        "Available",
        "packages",
        "Packages that the troop has answered for so far: supplied, plus moved in, less moved out. Of a donation that "
        "the troop never holds, what was handed out and sold at stalls.",
    ),
    "damaged": Measure("Damaged", "packages", "Packages reported damaged, less those exchanged for good ones."),
    "handed_out": Measure("With families", "packages", "Packages families took, less those they brought back."),
    "stall": Measure("Sold at stalls", "packages", "Packages sold at public stalls."),
    "sold_from_stock": Measure(
        "Out of the troop's stock",
        "packages",
        "Packages that families took and packages sold at stalls.",
        terms=("handed_out", "stall"),
    ),
    "expected_on_hand": Measure(
        "Should be on hand",
        "packages",
        "Available, less damaged, less what left the stock.",
        terms=("available", "-damaged", "-handed_out", "-stall"),
    ),
    "on_hand": Measure("Counted", "packages", "Packages counted at the week's end; empty where nobody counted."),
    "on_hand_or_expected": Measure("On hand", "packages", "The week's count, else what should be on hand."),
    "missing": Measure(
        "Not accounted for",
        "packages",
        "Packages that should be on hand less packages counted; empty where nobody counted. Negative: more were "
        "counted.",
        terms=("expected_on_hand", "-on_hand"),
        caution="Most often a record is late or a figure was mistyped.",
    ),
    "sell_through": Measure(
        "Sell-through",
        "share",
        "The part of the packages available that has left the troop's stock.",
        divides_by="packages available",
        terms=("sold_from_stock", "available"),
    ),
    "weeks_of_supply": Measure(
        "Weeks of supply",
        "weeks",
        "How long the packages on hand last at the pace of the last three weeks submitted.",
        divides_by="packages a week out of stock in the last three weeks submitted",
        terms=("on_hand_or_expected", "recent_sold"),
    ),
    "recent_sold": Measure(
        "Out of stock lately", "packages", "Packages out of the troop's stock in the last three weeks submitted."
    ),
    "sold_a_week": Measure(
        "Out of stock a week",
        "average",
        "Packages that leave the stock of all troops in a week, at the pace of its last three weeks submitted.",
    ),
    "cases": Measure(
        "Cases", "packages", "Packages divided by the packages in a case, rounded down, and what is left over."
    ),
}

FAMILIES: dict[str, Measure] = {
    "participant": Measure(
        "Participant",
        "code",
        "The participant's code; `troop` is the troop's own page, which sells like one more participant.",
    ),
    "taken": Measure("Taken", "packages", "Packages the family took."),
    "brought_back": Measure("Brought back", "packages", "Packages the family returned to the troop."),
    "charged": Measure("Charged", "money", "Packages taken less brought back, at their price."),
    "paid_cash": Measure("Paid in cash", "money", "Cash and cheques handed in."),
    "paid_card": Measure("Paid by card", "money", "Money that reached the bank by itself, before fees."),
    "paid_online": Measure(
        "Paid online", "money", "What buyers paid online for orders that the participant delivers, without shipping."
    ),
    "settled": Measure("Settled otherwise", "money", "Adjustments that name the participant."),
    "paid": Measure(
        "Paid",
        "money",
        "All that the family paid or that was settled for it.",
        terms=("paid_cash", "paid_card", "paid_online", "settled"),
    ),
    "owes": Measure(
        "Owes",
        "money",
        "What the family was charged less what it paid. Negative: it has paid ahead or too much.",
        terms=("charged", "-paid_cash", "-paid_card", "-paid_online", "-settled"),
        caution="An amount owed is not proof of wrongdoing.",
    ),
    "owes_0_7": Measure("Up to 7 days", "money", "The part owed for packages of weeks that ended up to 7 days ago."),
    "owes_8_14": Measure("8 to 14 days", "money", "The part owed for packages of weeks that ended 8 to 14 days ago."),
    "owes_15_30": Measure(
        "15 to 30 days", "money", "The part owed for packages of weeks that ended 15 to 30 days ago."
    ),
    "owes_over_30": Measure(
        "Over 30 days", "money", "The part owed for packages of weeks that ended over 30 days ago."
    ),
    "overpaid": Measure(
        "Overpaid", "money", "Cash, card money and settlements beyond the charge: something to give back or to explain."
    ),
    "paid_ahead": Measure(
        "Paid ahead", "money", "Online orders paid whose packages the family has not fetched yet. Nothing is wrong."
    ),
    "remote": Measure(
        "Posted and donated", "packages", "Packages of the participant's online orders that are posted or donated."
    ),
    "packages": Measure(
        "Packages", "packages", "All packages of the participant.", terms=("taken", "-brought_back", "remote")
    ),
}

DUES: dict[str, Measure] = {
    "due_on": Measure("Due on", "date", "The day of a due date of the season or of an announced collection."),
    "amount": Measure(
        "Announced", "money", "What the organisation said it will collect; empty where nothing is announced."
    ),
    "is_estimate": Measure(
        "Estimate", "yes or no", "Whether the amount is worked out here because no collection is announced."
    ),
    "due_by": Measure("Due by then", "money", "All that must have been credited by that day."),
    "instalment": Measure("Instalment", "money", "What this day asks for beyond the earlier ones."),
    "unpaid": Measure(
        "Unpaid", "money", "What is left of the instalment after the credits, which go to the oldest first."
    ),
    "days_old": Measure("Age", "days", "Days since the instalment fell due."),
    "is_being_collected": Measure(
        "Being collected", "yes or no", "Whether the collection may still be clearing and no payment has come back."
    ),
}

AREA: dict[str, Measure] = {
    "troops": Measure("Troops", "troops", "Troops of the troops list or of the roster."),
    "troops_submitted": Measure("Submissions in", "troops", "Troops whose week is submitted."),
    "troops_past_due": Measure("Troops past due", "troops", "Troops with something past due."),
    "troops_not_covered": Measure(
        "May not be covered", "troops", "Troops whose bank may not cover what is being collected and the next due."
    ),
    "submissions": Measure(
        "Submissions in", "share", "Troops whose week is submitted, of all troops.", divides_by="troops"
    ),
    "goal": Measure("Goal", "packages", "Packages that participants mean to sell, the newest goal of each."),
    "goal_share": Measure(
        "Part of the goals",
        "share",
        "Packages sold, of the goals that participants set. Participants without a goal add packages and no goal.",
        divides_by="sum of the goals set",
        terms=("packages_sold", "goal"),
    ),
    "median_per_active": Measure(
        "Median",
        "average",
        "Half of the participants taking part have at least this many packages.",
    ),
    "top_tenth_part": Measure(
        "Top tenth's part",
        "share",
        "The packages of the tenth of participants with the most packages, of all participants' packages. With a "
        "large part a few sellers carry the sale.",
        divides_by="packages of all participants taking part",
        terms=("top_tenth_packages", "participants_packages"),
    ),
    "participants_packages": Measure(
        "Participants' packages", "packages", "All packages of the participants who take part."
    ),
    "top_tenth_packages": Measure(
        "Top tenth's packages", "packages", "Packages of the tenth of participants taking part who have the most."
    ),
    "posted_packages": Measure("Posted packages", "packages", "Packages of orders that are posted."),
    "posted_orders": Measure("Posted orders", "orders", "Online orders that are posted and count."),
    "matched_now": Measure("This season", "packages", "Packages sold so far, of the troops that have both seasons."),
    "matched_then": Measure(
        "Last season", "packages", "Packages sold up to the same week's number last season, of the same troops."
    ),
    "online_share": Measure(
        "Online share",
        "share",
        "Packages sold through online orders: posted, donated and delivered by hand.",
        divides_by="packages sold",
        terms=("remote", "by_hand", "packages_sold"),
    ),
    "by_hand": Measure(
        "Delivered by hand", "packages", "Packages of online orders that participants deliver and buyers paid online."
    ),
    "mean_posted_order": Measure(
        "Mean posted order",
        "packages",
        "Packages in an order that is posted, on average.",
        divides_by="posted orders that count",
        terms=("posted_packages", "posted_orders"),
    ),
    "last_season": Measure(
        "Last season",
        "packages",
        "Packages sold up to the same week's number last season, of the same troops or the area.",
    ),
    "pace": Measure(
        "Pace beside last season",
        "share",
        "Packages sold up to this week, beside those up to the same week's number last season, of troops with both.",
        divides_by="last season's packages up to the same week",
        terms=("matched_now", "matched_then"),
    ),
    "step_registered": Measure("Registered", "participants", "On the roster on that day."),
    "step_contact": Measure(
        "Contact on file", "participants", "Registered, with a caregiver's contact known.", divides_by=PEOPLE
    ),
    "step_goal": Measure("Goal set", "participants", "Registered, with a goal above 0.", divides_by=PEOPLE),
    "step_page": Measure("Page open", "participants", "Registered, whose own page can be seen.", divides_by=PEOPLE),
    "step_told": Measure(
        "People told", "participants", "Registered, who sent the page to somebody.", divides_by=PEOPLE
    ),
    "step_first_sale": Measure(
        "First sale", "participants", "Registered, with at least one package.", divides_by=PEOPLE
    ),
    "step_goal_met": Measure(
        "Goal met", "participants", "Registered, with as many packages as the goal says.", divides_by=PEOPLE
    ),
}

EXCEPTIONS: dict[str, Measure] = {
    "rule": Measure("Rule", "code", "The name of the rule that found it; each rule's meaning stands beside its label."),
    "troop": Measure("Troop", "code", "The troop it is about."),
    "subject": Measure(
        "Subject", "code", "The participant, item, order, stall or payment meant; empty: the troop as such."
    ),
    "severity": Measure("How pressing", "text", "Act now, ask, or only watch."),
    "at_stake": Measure("At stake", "money", "What its evidence adds up to; empty where no amount can be named."),
    "first_seen": Measure("First seen", "date", "The first week's end of the unbroken run in which it has been found."),
    "weeks_open": Measure("Weeks open", "weeks", "Week ends in that run, this one included."),
    "what": Measure("What", "text", "What was found, with its figures.", caution="It is no proof of wrongdoing."),
    "next_step": Measure("Next step", "text", "What to ask or do first."),
    "evidence": Measure("Evidence", "text", "The files, sheets and cells it rests on, each with what it adds."),
}

RELATIONS: dict[str, dict[str, Measure]] = {
    "standing": STANDING,
    "items": ITEMS,
    "item_totals": ITEMS,
    "families": FAMILIES,
    "dues": DUES,
    "area": AREA,
    "steps": AREA,
    "exceptions": EXCEPTIONS,
}


def measure(relation: str, name: str) -> Measure:
    """What a column of a relation means; raises KeyError where nobody has explained it."""
    for column in (RELATIONS[relation], STANDING, AREA):
        if name in column:
            return column[name]
    raise KeyError(f"{relation}.{name} is not in the glossary")


def label(relation: str, name: str) -> str:
    """A column's heading."""
    return measure(relation, name).label
