"""The measures of a due date of a troop.

Comes in: the ways of declaring. Goes out: DUES.
"""

from pipelines.definitions.measures.declaring import (
    Measure,
    Own,
)

# fmt: off
DUES = (
    Measure("due_on", "Due on", "date", "The day of a due date of the season or of an announced collection."),
    Measure("amount", "Announced", "money",
            "What the organisation said it will collect; empty where nothing is announced.",
            made=Own("dues", "dues.amount")),
    Measure("arrears", "What is past due", "text",
            "Whether the amount announced includes what is past due, leaves it apart, or this was not said."),
    Measure("is_estimate", "Estimate", "yes or no",
            "Whether the amount is worked out here because no collection is announced."),
    Measure("due_by", "Due by then", "money", "All that must have been credited by that day.",
            made=Own("dues", "dues.due_by")),
    Measure("instalment", "Instalment", "money", "What this day asks for beyond the earlier ones.",
            made=Own("dues", "dues.instalment")),
    Measure("unpaid", "Unpaid", "money",
            "What is left of the instalment after the credits, which go to the oldest first.",
            made=Own("dues", "dues.unpaid")),
    Measure("days_old", "Age", "days", "Days since the instalment fell due."),
    Measure("is_being_collected", "Being collected", "yes or no",
            "Whether the collection may still be clearing and no payment has come back."),
)
