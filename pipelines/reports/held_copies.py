"""What of a troop's own workbooks is held: what to mend cell by cell, and the marked-up copy to send back.

Comes in: a Week and a troop. Goes out: Returned, with its sheets. A file that tells of
other troops too is none of them.
"""

from dataclasses import dataclass

from pipelines.definitions.errors import Stop
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import Viewer
from pipelines.reports.findings_returned import Returned, of_landed, with_sheets
from pipelines.reports.week import Week


@dataclass(frozen=True)
class Copy:
    """One file as an attachment: the list of cells as text, the marked-up workbook if it can be made."""

    told: str
    name: str
    content: bytes | None


def held_copies(week: Week, troop: str) -> list[Copy]:
    """What goes back with a letter, the newest file first; nothing for a paper without families."""
    held = {row["subject"] for row in week.exceptions.get(troop, []) if row["rule"] == "submission_held"}
    if not held or week.book is None or not week.with_families:
        return []
    landed = {file["file_no"]: file for file in week.figures.files.landed()}
    own = Figures(week.figures._con, Viewer(f"leader of {troop}", frozenset({troop})))
    made, seen = [], set()
    for row in week.figures.files.held():
        key = row["file_no"], row["unit"]
        if row["troop"] != troop or str(row["week_ending"]) not in held or row["is_replaced"] or key in seen:
            continue
        seen.add(key)
        file = landed.get(row["file_no"])
        returned = of_landed(own, *key) if file else None
        if file and returned:
            made.append(_copy(week, returned, file["sha256"].split("@")[0]))
    return made


def _copy(week: Week, returned: Returned, sha256: str) -> Copy:
    try:
        content = with_sheets(returned, week.book, sha256).copy() if week.book else None
    except Stop:  # the file is not kept any more
        content = None
    return Copy(returned.text(), returned.copy_name, content)
