"""What can we keep or print?"""

import streamlit as st

from dashboard.data import downloads, readings
from dashboard.parts import own_troop, words

TITLE = "Our papers"
ORDER = 40
ROLES = ("leader",)
PAPERS = (
    ("statement.pdf", "Statement", "The troop's week on two pages, as the coordinator sends it."),
    ("form.xlsx", "Form for the next week", "A workbook to fill in and send, with what is known filled in already."),
    ("packing.pdf", "Packing list", "What each participant packs and fetches, by order and item, with boxes to tick."),
    ("packing.csv", "Packing list as a table", "The same lines, for a spreadsheet."),
    ("standing.csv", "Standing", "Every figure of the troop, as a table."),
    ("items.csv", "Items", "The troop's packages, item by item, as a table."),
    ("families.csv", "Families", "What each family took, paid and owes, as a table. Keep it to yourself."),
)


def show() -> None:
    """The screen."""
    read = readings.now()
    troop = own_troop.choose(read)
    week = readings.season().week_number(read.as_of)
    if read.row("standing", troop=troop) is None:
        st.info("There are no papers yet: nothing is known of the troop.")
        return
    st.markdown(f"#### Papers of troop {words.bold(troop)}, week {week}")
    for what, title, about in PAPERS:
        with st.container(border=True, gap="xxsmall"):
            where = downloads.address(what, week, troop)
            st.markdown(f"[{words.bold(title)}]({where})")
            st.caption(words.plain(about))
    st.caption(
        "Each paper is made when you ask for it, and only while you are signed in. What you keep is in your care."
    )


show()
