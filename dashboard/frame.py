"""What stands around every screen: whose season it is, which week is chosen, as of when and from what the figures are.

Comes in: the readings of this run and the address. Goes out: the week chosen, kept in the address for sending.
"""

from datetime import date

import streamlit as st

from dashboard import queries, words
from dashboard.queries import Readings

WEEK = "week"


def head(read: Readings, title: str) -> None:
    """Whose season, the screen's title, the week chooser, and as of when the figures are."""
    rules = read.rules()
    with st.container(horizontal=True, vertical_alignment="bottom", horizontal_alignment="distribute"):
        with st.container(width="content", gap=None):
            st.markdown(words.plain(f"{rules['area']} · {rules['title']}"))
            st.header(title, anchor=False)
        queries.choose(_choose_week(read.days(), rules["first_week_ending"]))
    who = f":small[:gray[Signed in as {words.plain(read.viewer.name)}.] [Sign out](/sign-out)]"
    st.markdown(f"{words.aside(_as_of(queries.now()))} {who}")


def _week_no(day: date, first: date) -> int:
    return (day - first).days // 7 + 1


def _choose_week(days: tuple[date, ...], first: date) -> date:
    """The week that the address names, else the one chosen before, else the latest."""
    numbers = {_week_no(day, first): day for day in days}
    latest = max(numbers)
    asked = st.query_params.get(WEEK, "")
    if asked.isdecimal() and len(asked) <= 3 and int(asked) in numbers:
        st.session_state[WEEK] = int(asked)
    elif st.session_state.get(WEEK) not in numbers:
        st.session_state[WEEK] = latest
    chosen = st.selectbox(
        "Week", sorted(numbers, reverse=True), key=WEEK, width=230, on_change=_keep_in_address,
        format_func=lambda number: f"Week {number}, to {words.day(numbers[number])}",
    )  # fmt: skip
    if st.query_params.get(WEEK) != str(chosen):
        st.query_params[WEEK] = str(chosen)
    return numbers[chosen]


def _keep_in_address() -> None:
    st.query_params[WEEK] = str(st.session_state[WEEK])


def _as_of(read: Readings) -> str:
    """As of when the figures are, and from what."""
    told = f"Figures as of {words.full_day(read.as_of)}"
    known = read.known_at()
    told += f", from everything that had come in by {words.instant(known)}." if known else "; nothing has come in yet."
    if read.as_of < read.days()[-1]:
        told += f" This is an earlier week; the latest ends on {words.day(read.days()[-1])}."
    return told
