"""Who could use help, and what has each family taken, paid and still to bring?"""

import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import at_a_glance, explained, own_troop, tables, told, words
from pipelines.figures.invitations import invitations

TITLE = "Our families"
ORDER = 20
ROLES = ("leader",)
COLUMNS = ("participant", "packages", "charged", "paid_cash", "paid_card", "paid_online", "settled", "owes", "owes_0_7",
           "owes_8_14", "owes_15_30", "owes_over_30", "overpaid", "paid_ahead")  # fmt: skip


def state(rows: tuple[Row, ...], currency: str) -> str:
    """One sentence of the state, as Markdown."""
    owing = [row for row in rows if row["owes"] > 0]
    if not owing:
        return "Every family has paid for what it took."
    owes = sum(row["owes"] for row in owing)
    old = [row for row in owing if row["owes_15_30"] + row["owes_over_30"] > 0]
    since = f"; {words.bold(words.number(len(old)))} of them for over two weeks" if old else ""
    many = words.plural(len(owing), "family has", "families have")
    return f"{words.bold(many)} {words.bold(words.money(owes, currency))} still to bring{since}."


def _people(read: Readings, troop: str, currency: str) -> None:
    """Each participant at a glance, whoever needs help first."""
    found = at_a_glance.glances(read, troop)
    if goal := read.row("troop_goals", troop=troop):
        at_a_glance.bar("Our goal", goal)
        if goal["is_goal_met"]:
            st.caption("A goal once met stays met, also when it is raised.")
    st.subheader("Each participant", anchor=False)
    until = (
        at_a_glance.still_to_earn(read, readings.season().week_endings[-1]) if any(one.awards for one in found) else ""
    )
    st.caption(f"Whoever could use help comes first; nobody is ranked by what was sold. {words.plain(until)}".strip())
    for one in found:
        at_a_glance.card(one, currency)
    with st.expander("All of them, as a table"):
        at_a_glance.table(found)
    told.show(invitations(read.rows("participants", troop=troop)), "Nobody was told of a page yet.")
    with st.expander("How stalls were shared"):
        at_a_glance.stalls(read, troop)


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    troop = own_troop.choose(read)
    rows = read.rows("families", troop=troop)
    if not rows and not read.rows("participants", troop=troop):
        st.info("No family has taken packages or sold online yet. Send your first week, and they stand here.")
        return
    st.markdown(f"#### {state(rows, currency)}")
    st.caption("Packages that are not paid for may still be with a family's buyers: ask before you judge.")
    _people(read, troop, currency)
    with st.expander("The money of every family, as a table"):
        frame = read.frame("families", troop=troop).select(COLUMNS)
        tables.table("families", frame, alt="Our families", key="our_families")
        explained.columns_made("families", list(COLUMNS[1:]), rows)
    st.caption(
        "Participants are codes. A family that paid ahead has paid online for packages that it has yet to fetch: "
        "nothing is wrong."
    )


show()
