"""A count sheet to print for the store room: one page, one line an item, cases and loose packages, two people's names.

Comes in: the Week that ended seven days earlier, a troop. Goes out: a PDF.
"""

from typing import Any

from pipelines.reports.statement_tables import cut
from pipelines.reports.typeset import pdf
from pipelines.reports.week import Week, named_day

MOST = 34  # items of one page


def count_sheet(before: Week, troop: str) -> bytes:
    """The sheet for the week after."""
    return pdf("count.typ", values(before, troop))


def values(before: Week, troop: str) -> dict[str, Any]:
    """All that the template says, as text."""
    frame, ends = before.season.season, before.season.week_ending(before.week_no + 1)
    stocked = [item for item in before.season.items if item.stocked]
    return {
        "paper": before.paper,
        "title": f"Count sheet of troop {troop}, {before.label_of(ends)}",
        "season": cut(frame.title),
        "area": cut(frame.area),
        "troop": cut(troop),
        "week": f"Week {before.week_no + 1}: count on {named_day(ends)} or close to it",
        "items": [[item.code, cut(item.title, 40), str(item.packages_per_case)] for item in stocked[:MOST]],
    }
