"""What stands around every screen: whose season it is, which week is chosen, as of when and from what the figures are.

Comes in: the readings of this run and the address. Goes out: the week chosen, and the time that is looked back at, both
kept in the address for sending.
"""

from datetime import date, datetime

import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.parts import words

WEEK = "week"
KNOWN = "known"
NEWEST = "all that has come in"


def head(read: Readings, title: str, *, asks_week: bool = False) -> None:
    """Whose season, the title, the week chooser unless the screen has its own, and as of when the figures are."""
    rules = read.rules()
    with st.container(
        horizontal=True, vertical_alignment="bottom", horizontal_alignment="distribute", key="head"
    ):  # fmt: skip
        with st.container(width="content", gap=None):
            with st.container(key="whose"):
                st.markdown(words.plain(f"{rules['area']} · {rules['title']}"))
            st.header(title, anchor=False)
        with st.container(horizontal=True, vertical_alignment="bottom", width="content", key="choosers"):
            week = st.container(width="content")
            with st.popover(_known_said(), key="about"):
                if known_on := _choose_known(read):
                    readings.look_back(known_on)
                with week:
                    if asks_week:
                        _remember_week()
                    else:
                        readings.choose(_choose_week(readings.now().days(), rules["first_week_ending"]))
                _as_of_line(read)
    chosen = readings.now()
    is_earlier = chosen.known_on is not None or chosen.as_of < chosen.days()[-1]
    with st.container(key="as_of_earlier" if is_earlier else "as_of_line"):  # on a phone the newest is not said twice
        _as_of_line(read)


def _known_said() -> str:
    """What the choice of a time is called while it is folded."""
    return "As it was known then" if st.session_state.get(KNOWN) or st.query_params.get(KNOWN) else "As of now"


def _as_of_line(read: Readings) -> None:
    who = f":small[:gray[Signed in as {words.plain(read.viewer.name)}.] [Sign out](/sign-out)]"
    st.markdown(f"{words.aside(_as_of(readings.now()))} {who}")


def _week_no(day: date, first: date) -> int:
    return (day - first).days // 7 + 1


def _remember_week() -> None:
    """The week chosen on other screens outlasts one that does not show the chooser."""
    if WEEK in st.session_state:
        st.session_state[WEEK] = st.session_state[WEEK]


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


def _choose_known(read: Readings) -> datetime | None:
    """The time that the address names, else the one chosen before, at which something had come in; None: now."""
    times = [row["at"] for row in read.moments()]
    if len(times) < 2:
        return None
    earlier = {at.isoformat(): at for at in times[1:]}
    labels = dict(zip(earlier, words.instants(times[1:]), strict=True))
    asked = st.query_params.get(KNOWN, "")
    if asked in earlier:
        st.session_state[KNOWN] = asked
    elif st.session_state.get(KNOWN) not in earlier:
        st.session_state[KNOWN] = ""
    chosen = st.selectbox(
        "Known on", ["", *earlier], key=KNOWN, width=230, on_change=_keep_known_in_address,
        format_func=lambda at: labels[at] if at else f"Now: {NEWEST}",
        help="Look back: the figures as they were once files had come in at that time, whatever has come in since.",
    )  # fmt: skip
    if chosen and asked != chosen:
        st.query_params[KNOWN] = chosen
    return earlier.get(chosen)


def _keep_known_in_address() -> None:
    if st.session_state[KNOWN]:
        st.query_params[KNOWN] = st.session_state[KNOWN]
    elif KNOWN in st.query_params:
        del st.query_params[KNOWN]


def _keep_in_address() -> None:
    st.query_params[WEEK] = str(st.session_state[WEEK])


def _as_of(read: Readings) -> str:
    """As of when the figures are, and from what."""
    told = f"Figures as of {words.full_day(read.as_of)}"
    if read.known_on:
        return f"{told}, as they were known on {words.instant(read.known_on)}. You are looking back: what came in " + (
            "later counts nowhere here. Choose Now under Known on to go back."
        )
    known = read.known_at()
    told += f", from everything that had come in by {words.instant(known)}." if known else "; nothing has come in yet."
    if read.as_of < read.days()[-1]:
        told += f" This is an earlier week; the latest ends on {words.day(read.days()[-1])}."
    return told
