"""The path of a troop's participants, and how their packages are spread.

Comes in: the ways of declaring. Goes out: STEPS.
"""

from pipelines.definitions.measures.declaring import (
    Measure,
    Own,
    Ratio,
)

ROSTER = "everyone on the roster on that day"

# fmt: off
STEPS = (
    Measure("step_registered", "Registered", "participants", "On the roster on that day.",
            made=Own("steps", "people.step_registered")),
    Measure("step_contact", "Contact known", "participants", "Registered, with a caregiver's contact known.",
            made=Own("steps", "people.step_contact"), divides_by=ROSTER),
    Measure("step_goal", "Goal set", "participants", "Of those, with a goal above 0.",
            made=Own("steps", "people.step_goal"), divides_by=ROSTER),
    Measure("step_page", "Page open", "participants", "Of those, whose own page can be seen.",
            made=Own("steps", "people.step_page"), divides_by=ROSTER),
    Measure("step_told", "People told", "participants", "Of those, who sent the page to somebody.",
            made=Own("steps", "people.step_told"), divides_by=ROSTER),
    Measure("step_first_sale", "First sale", "participants", "Of those, with at least one package.",
            made=Own("steps", "people.step_first_sale"), divides_by=ROSTER),
    Measure("step_goal_met", "Goal met", "participants",
            "Of those, who once came as far as their goal. One once met stays met when it is raised.",
            made=Own("steps", "people.step_goal_met"), divides_by=ROSTER),
    Measure("goal", "Goal", "packages", "Packages that participants mean to sell, the newest goal of each.",
            made=Own("steps", "people.goal")),
    Measure("goal_packages", "Packages of those with a goal", "packages",
            "All packages of the participants who have set a goal.", made=Own("steps", "people.goal_packages")),
    Measure("median_per_active", "Median", "average",
            "Half of the participants taking part have at least this many packages.",
            made=Own("steps", "people.median_per_active")),
    Measure("participants_packages", "Participants' packages", "packages",
            "All packages of the participants who take part.",
            made=Own("steps", "people.participants_packages")),
    Measure("top_tenth_packages", "Top tenth's packages", "packages",
            "Packages of the tenth of participants taking part who have the most.",
            made=Own("steps", "people.top_tenth_packages"), adds_up=False),
    Measure("top_tenth_part", "Share of the top tenth", "share",
            "The packages of the tenth of participants with the most packages, of all participants' packages. With a "
            "large part a few sellers carry the sale.",
            made=Ratio("top_tenth_packages", "participants_packages"),
            divides_by="packages of all participants taking part"),
)
