"""How does the area stand?"""

import streamlit as st

from dashboard.data import readings
from dashboard.parts import chart_words, charts, dollar_places, explained, words

TITLE = "The area"
ORDER = 10
ROLES = ("viewer",)
FIGURES = ("packages_sold", "sell_through", "goal_share", "owed", "past_due", "not_banked", "missing", "share")


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    area = read.row("area")
    if area is None:
        st.info("Nothing is known of the area yet.")
        return
    sent = words.bold(words.of(area["troops_submitted"], area["troops"]))
    sold = words.bold(words.number(area["packages_sold"]))
    due = words.bold(words.money(area["past_due"], currency))
    st.markdown(f"#### {sent} submissions in; {sold} packages sold; {due} past due.")
    explained.figures([("area", name) for name in FIGURES], area)
    dollar_places.show("area", area, read.weeks("area"), currency, "No packages have been supplied yet.")
    st.subheader("Pace beside last season", anchor=False)
    st.altair_chart(charts.pace(read.pace(), read.as_of), alt=chart_words.pace(read.pace(), read.as_of))
    st.caption("Sums of the whole area only: troops and families are for those who look after them.")


show()
