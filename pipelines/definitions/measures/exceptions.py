"""The columns of what is to be followed up: exceptions.csv, in its order.

Comes in: the ways of declaring. Goes out: EXCEPTIONS.
"""

from pipelines.definitions.measures.declaring import (
    CSV,
    Measure,
)

# fmt: off
EXCEPTIONS = (
    Measure("rule", "Rule", "code", "The name of the rule that found it; each rule's meaning stands beside its label.",
            shown=(CSV,)),
    Measure("troop", "Troop", "code", "The troop it is about.", shown=(CSV,)),
    Measure("subject", "Subject", "code",
            "The participant, item, order, stall or payment meant; empty: the troop as such.",
            shown=(CSV,)),
    Measure("severity", "How pressing", "text", "Act now, ask, or only watch.", shown=(CSV,)),
    Measure("at_stake", "At stake", "money", "What its evidence adds up to; empty where no amount can be named.",
            shown=(CSV,)),
    Measure("first_seen", "First seen", "date", "The first week's end of the unbroken run in which it has been found.",
            shown=(CSV,)),
    Measure("weeks_open", "Weeks open", "weeks", "Week ends in that run, this one included.", shown=(CSV,)),
    Measure("what", "What", "text", "What was found, with its figures.",
            caution="It is no proof of wrongdoing.", shown=(CSV,)),
    Measure("next_step", "Next step", "text", "What to ask or do first.", shown=(CSV,)),
    Measure("evidence", "Evidence", "text", "The files, sheets and cells it rests on, each with what it adds.",
            shown=(CSV,)),
)
