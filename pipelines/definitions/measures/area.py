"""The measures of the area that no troop has; those of the troops that add up are the area's too.

Comes in: the ways of declaring. Goes out: AREA.
"""

from dataclasses import replace

from pipelines.definitions.measures.declaring import AREA as SHEET
from pipelines.definitions.measures.declaring import (
    Count,
    Measure,
    Own,
    Ratio,
)
from pipelines.definitions.measures.standing import STANDING
from pipelines.definitions.measures.steps import STEPS

SPREAD = {one.name: one for one in (*STANDING, *STEPS)}
ONCE = " Who changed troops counts once."

# fmt: off
AREA = (
    Measure("troops", "Troops", "troops", "Troops of the troops list or of the roster.",
            made=Count("troop", "is not null")),
    Measure("troops_submitted", "Submissions in", "troops", "Troops whose week is submitted.",
            made=Count("submitted", "is true")),
    Measure("troops_past_due", "Troops past due", "troops", "Troops with something past due.",
            made=Count("past_due", "> 0")),
    Measure("troops_not_covered", "May not be covered", "troops",
            "Troops whose bank may not cover what is being collected and the next due.",
            made=Count("cover", "< 0")),
    Measure("submissions", "Share of submissions in", "share", "Troops whose week is submitted, of all troops.",
            made=Ratio("troops_submitted", "troops"), divides_by="troops"),
    Measure("goal_share", "Part of the goals", "share",
            "Packages of the participants who set a goal, of the goals that they set: the same people in both.",
            made=Ratio("goal_packages", "goal"), divides_by="sum of the goals set", shown=(SHEET,)),
    Measure("online_share", "Online share", "share",
            "Packages sold through online orders: posted, donated and delivered by hand.",
            made=Ratio(("remote", "by_hand"), "packages_sold"), divides_by="packages sold", shown=(SHEET,)),
    Measure("mean_posted_order", "Packages in a posted order", "packages",
            "Packages in an order that is posted, on average.",
            made=Ratio("posted_packages", "posted_orders"), divides_by="posted orders that count"),
    Measure("last_season", "Last season", "packages",
            "Packages sold up to the same week's number last season, of the same troops or the area.",
            made=Own("area", "area.last_season")),
    Measure("matched_now", "This season, troops with both", "packages",
            "Packages sold so far, of the troops that have both seasons.",
            made=Own("area", "area.matched_now")),
    Measure("matched_then", "Last season, troops with both", "packages",
            "Packages sold up to the same week's number last season, of the same troops.",
            made=Own("area", "area.matched_then")),
    Measure("pace", "Pace beside last season", "share",
            "Packages sold up to this week, beside those up to the same week's number last season, of troops with "
            "both.",
            made=Ratio("matched_now", "matched_then"), divides_by="last season's packages up to the same week"),
    Measure("matched_troops", "Troops with both seasons", "troops", "Troops that sold last season and sell now.",
            made=Own("area", "area.matched_troops")),
    *(replace(SPREAD[name], meaning=SPREAD[name].meaning + ONCE, made=Own("area", f"area.{name}"))
      for name in ("taking_part", "goal", "goal_packages")),
    replace(SPREAD["median_per_active"], made=Own("area", "area.median_per_active")),
    replace(SPREAD["top_tenth_packages"], made=Own("area", "area.top_tenth_packages")),
)
