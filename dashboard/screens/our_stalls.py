"""Where and when do we stand, what do we wish for?"""

import streamlit as st

from dashboard.data import agreed_actions, downloads, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import doing, own_troop, stall_tables, words

TITLE = "Our stalls"
ORDER = 37
ROLES = ("leader",)
TOLD = "our_stalls_told"


def state(ours: list[Row], free: list[Row]) -> str:
    """One sentence of the state, as Markdown."""
    if not ours:
        first = "You have no slot ahead"
    else:
        one = ours[0]
        first = f"Next: {words.bold(one['title'])}, {words.plain(stall_tables.hours(one))}"
        if len(ours) > 1:
            first += f", and {words.plural(len(ours) - 1, 'more slot', 'more slots')} ahead"
    return f"{first}; {words.bold(words.plural(len(free), 'slot'))} free to wish for."


def wishes(troop: str, free: list[Row], wished: list[str]) -> None:
    """What the troop wishes for, the first wish first."""
    st.subheader("Our wishes", anchor=False)
    if not free:
        st.info("No slot is free now.")
        return
    titles = {row["slot"]: stall_tables.said(row) for row in free}
    with st.form("wishes"):
        chosen = st.multiselect(
            "The slot you want most comes first", list(titles), default=[code for code in wished if code in titles],
            format_func=titles.__getitem__,
        )  # fmt: skip
        st.caption("They are drawn among all troops. You see here what you got as soon as the draw is kept.")
        if st.form_submit_button("Keep our wishes", type="primary"):
            doing.done(lambda: agreed_actions.wish(troop, chosen), "Your wishes are kept.", TOLD)


def swaps(read: Readings, troop: str, ours: list[Row], taken: list[Row]) -> None:
    """Swaps that wait for an answer, and asking for one."""
    st.subheader("Swaps", anchor=False)
    for row in read.swaps():
        theirs = f"{words.plain(row['about_title'])}, {words.day(row['about_date'])} {row['about_start']:%H:%M}"
        wanted = f"{words.plain(row['other_title'])}, {words.day(row['other_date'])} {row['other_start']:%H:%M}"
        if row["asker"] == troop:
            st.markdown(f"- You offer {theirs} for {wanted}. It waits for the other leader's answer.")
        elif row["asked"] == troop:
            with st.container(border=True):
                st.markdown(f"Another troop offers {words.bold(theirs)} for your {words.bold(wanted)}.")
                with st.container(horizontal=True):
                    number = row["entry_no"]
                    if st.button("Yes, swap", key=f"yes_{number}", type="primary"):
                        doing.done(lambda: agreed_actions.answer_swap(troop, number, yes=True), "Swapped.", TOLD)  # noqa: B023
                    if st.button("No, thank you", key=f"no_{number}"):
                        doing.done(lambda: agreed_actions.answer_swap(troop, number, yes=False), "Declined.", TOLD)  # noqa: B023
    if not ours or not taken:
        st.caption("To swap you need a slot ahead of your own, and one that another troop has.")
        return
    mine = {row["slot"]: stall_tables.said(row) for row in ours}
    other = {row["slot"]: stall_tables.said(row) for row in taken}
    with st.form("swap"):
        own = st.selectbox("We give", list(mine), format_func=mine.__getitem__)
        sought = st.selectbox("We would like", list(other), index=None, format_func=other.__getitem__)
        st.caption("It holds once the other leader has said yes, too.")
        if st.form_submit_button("Ask") and sought:
            doing.done(lambda: agreed_actions.ask_swap(troop, own, sought), "Asked. You see the answer here.", TOLD)


def show() -> None:
    """The screen."""
    read = readings.now()
    troop = own_troop.choose(read)
    rows = read.slots()
    doing.said(TOLD)
    if not rows:
        st.info("No slots are known yet. Once the coordinator has the calendar, it stands here.")
        return
    ahead = [row for row in rows if row["date"] > read.as_of]
    ours = stall_tables.ahead(rows, troop, read.as_of)
    free = [row for row in ahead if row["state"] == "open"]
    taken = [row for row in ahead if row["state"] == "given" and row["troop"] is None]
    st.markdown(f"#### {state(ours, free)}")
    for row in ours:
        st.markdown(f"- {words.bold(row['title'])}, {words.plain(stall_tables.hours(row))}")
    if ours:
        week = readings.season().week_number(read.as_of)
        st.markdown(f"[{words.bold('For your own calendar')}]({downloads.address(downloads.STALLS, week, troop)})")
    wishes(troop, free, [row["slot"] for row in read.facts("wishes", troop)])
    swaps(read, troop, ours, taken)
    with st.expander("Every slot ahead"):
        st.dataframe(
            stall_tables.frame(ahead, whose=False), hide_index=True, alt="Every slot ahead",
            column_config={"Day": st.column_config.DateColumn(format="ddd D MMM", pinned=True)},
        )  # fmt: skip


show()
