"""The measures of a family: families.csv, in its order.

Comes in: the ways of declaring. Goes out: FAMILIES.
"""

from pipelines.definitions.measures.declaring import (
    CSV,
    Entries,
    Measure,
    Own,
    Sum,
)
from pipelines.definitions.measures.standing import BY_HAND, POSTED, TAKEN, TROOP, also

# fmt: off
FAMILIES = (
    TROOP,
    Measure("participant", "Participant", "code",
            "The participant's code; `troop` is the troop's own page, which sells like one more participant.",
            shown=(CSV,)),
    Measure("taken", "Taken", "packages", "Packages the family took.",
            made=Entries(hand_out=+1, donation_out=+1), shown=(CSV,)),
    Measure("brought_back", "Brought back", "packages", "Packages the family returned to the troop.",
            made=Entries(bring_back=-1, donation_back=-1), shown=(CSV,)),
    Measure("charged", "Charged", "money", "Packages taken less brought back, at their price.",
            made=Entries(**TAKEN), shown=(CSV,)),
    Measure("paid_cash", "Paid in cash", "money", "Cash and cheques handed in, less cheques that came back.",
            made=Entries(family_cash=+1, family_cheque_back=+1), shown=(CSV,)),
    Measure("paid_card", "Paid by card", "money", "Money that reached the bank by itself, before fees.",
            made=Entries(family_card=+1), shown=(CSV,)),
    Measure("paid_online", "Paid online", "money",
            "What buyers paid online for orders that the participant delivers, without shipping.",
            made=Entries(**BY_HAND), shown=(CSV,)),
    Measure("settled", "Settled otherwise", "money", "Adjustments that name the participant.",
            made=Entries(settlement=+1), shown=(CSV,)),
    Measure("paid", "Paid", "money", "All that the family paid or that was settled for it.",
            made=Sum("paid_cash", "paid_card", "paid_online", "settled")),
    Measure("owes", "Owes", "money",
            "What the family was charged less what it paid. Negative: it has paid ahead or too much.",
            made=Sum("charged", "-paid_cash", "-paid_card", "-paid_online", "-settled"),
            caution="An amount owed is not proof of wrongdoing.", shown=(CSV,)),
    Measure("owes_0_7", "Up to 7 days", "money", "The part owed for packages of weeks that ended up to 7 days ago.",
            made=Own("families", "families.owes_0_7"), shown=(CSV,)),
    Measure("owes_8_14", "8 to 14 days", "money", "The part owed for packages of weeks that ended 8 to 14 days ago.",
            made=Own("families", "families.owes_8_14"), shown=(CSV,)),
    Measure("owes_15_30", "15 to 30 days", "money", "The part owed for packages of weeks that ended 15 to 30 days ago.",
            made=Own("families", "families.owes_15_30"), shown=(CSV,)),
    Measure("owes_over_30", "Over 30 days", "money", "The part owed for packages of weeks that ended over 30 days ago.",
            made=Own("families", "families.owes_over_30"), shown=(CSV,)),
    Measure("overpaid", "Overpaid", "money",
            "Cash, card money and settlements beyond the charge: something to give back or to explain.",
            made=Own("families", "families.overpaid"), shown=(CSV,)),
    Measure("paid_ahead", "Paid ahead", "money",
            "Online orders paid whose packages the family has not fetched yet. Nothing is wrong.",
            made=Own("families", "families.paid_ahead"), shown=(CSV,)),
    Measure("remote", "Posted and donated", "packages",
            "Packages of the participant's online orders that are posted or donated.",
            made=Entries(**POSTED), shown=(CSV,)),
    Measure("packages", "Packages", "packages", "All packages of the participant.",
            made=Sum("taken", "-brought_back", "remote"), shown=(CSV,)),
    also("by_hand"),
)
