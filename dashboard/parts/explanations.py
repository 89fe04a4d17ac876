"""Why a figure of ours and what somebody else saw differ: one likeliest explanation, wherever it is told.

Comes in: the readings of a run. Goes out: a sentence for a troop and what was looked at; empty where the two agree.
What follow-up knows of a count (cases for packages, a move told in two ways) goes before what the figures alone say.
"""

from dashboard.data.readings import Readings

# Rules that say why a count is off; the first word of their subject is the item, or they are about the whole troop.
WHY = ("cases_for_packages", "another_troops_file", "move_differs", "supply_differs")
ABOUT = {"packages_missing": "count", "books_differ": "organisation", "bank_differs": "bank"}
Key = tuple[str, str, str]  # troop, what was looked at, item


def likeliest(read: Readings) -> dict[Key, str]:
    """Explanations by troop, what was looked at, and item."""
    told = {
        (row["troop"], row["about"], row["item"]): str(row["explanation"])
        for row in read.rows("against_the_world")
        if row["difference"]
    }
    known = [row for row in read.rows("exceptions") if row["rule"] in WHY]
    for rank in reversed(WHY):
        for row in known:
            item = row["subject"].split(" ")[0]
            for key in told:
                if row["rule"] == rank and key[:2] == (row["troop"], "count") and item in ("", key[2]):
                    told[key] = row["what"]
    return told


def of_exception(read: Readings, rule: str, troop: str, subject: str) -> str:
    """The explanation of a difference that is followed up; empty where it is none."""
    return likeliest(read).get((troop, ABOUT.get(rule, ""), subject), "")
