"""What is kept here, why, and how long?"""

import streamlit as st

from dashboard.data import readings, snapshots
from dashboard.parts import book_care, words

TITLE = "What is kept"
ORDER = 95
GROUP = "People"
ROLES = ("coordinator", "leader", "viewer")
KEPT = (
    ("What families took, paid and owe, by participants' codes",
     "A troop must know who has packages, and what has been handed in.", "rows"),
    ("The files that came in, as they came", "Every figure can be traced to its cell, and proved.", "rows"),
    ("Leaders' names, addresses and numbers", "The coordinator must be able to call.", "rows"),
    ("Sums of troops and of the area", "Next season is compared with this one.", "kept"),
    ("Who signed in, sent and fetched what", "So that it can be seen whether somebody looked who should not.", "log"),
    ("Weeks that are being filled in", "A phone that is closed loses nothing.", "draft"),
)  # fmt: skip


def show() -> None:
    """The screen."""
    until = readings.kept_until()
    how_long = {
        "rows": f"until {words.full_day(until)}, then the coordinator removes them",
        "kept": "for as long as the book lasts",
        "log": "for as long as the book lasts, without codes",
        "draft": "until it is sent or thrown away, at the latest until the rest is removed",
    }
    st.markdown(f"#### {words.plain('Only what the sale needs, and no longer: participants are codes, never names.')}")
    lines = ["| What | Why | How long |", "|:--|:--|:--|"]
    for what, why, how in KEPT:
        said = how_long[how] if how == "rows" else words.plain(how_long[how])
        lines.append(f"| {words.plain(what)} | {words.plain(why)} | {said} |")
    st.markdown("\n".join(lines))
    st.markdown(
        "- Names of children, addresses and buyers do not belong here, in notes neither.\n"
        "- A leader sees her own troops only; of the others coarse quartiles, and only where ten or more stand behind "
        "them. A viewer sees sums of the area.\n"
        "- Money is best counted by two adults who are not related, and banked promptly.\n"
        "- An amount owed is no proof of wrongdoing. Ask before you judge.\n"
        "- Local rules and your organisation's own policy come first. Musterbook gives no legal, tax or accounting "
        "advice.\n"
        "- Copies of the book hold what the book held: keep them as safe, and remove them on time too."
    )
    if snapshots.role() == "coordinator":
        book_care.show(readings.now(), until)


show()
