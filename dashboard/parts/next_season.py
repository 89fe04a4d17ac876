"""The next season's book, begun with what this one knows.

Comes in: the name of a folder, people who may sign in there too. Goes out: the book made beside this one, and codes.
"""

import streamlit as st

from dashboard.data import care
from dashboard.parts import words
from pipelines.definitions.errors import Stop


def begin() -> None:
    """A form, folded; what was made is said with the codes that were issued."""
    with st.expander("Begin the next season's book"):
        st.markdown(
            "It begins with this season's rules, their days a year later, and with what nobody should have to type "
            "again: troops, places, how this season went by week, awards earned, how files from elsewhere are read. "
            "No participant's money and no note comes along."
        )
        with st.form("next_season", border=False):
            name = st.text_input("Name of its folder, beside this book's", care.next_folder(), max_chars=100)
            people = st.multiselect("Who may sign in there too", care.may_come_along())
            pressed = st.form_submit_button("Make it")
        if pressed:
            _made(name, people)


def _made(name: str, people: list[str]) -> None:
    try:
        with st.spinner("Making the next season's book"):
            done = care.carry(name, people)
    except Stop as stop:
        st.warning(words.plain(str(stop)))
        return
    frame = done.season.season
    days = f"{words.full_day(frame.first_day)} to {words.full_day(frame.last_day)}"
    st.success(words.plain(f"{frame.title}, {days}: its book is in {done.book.folder}."))
    if done.codes:
        st.markdown("Each code is shown this once. Hand it over in person or by phone.")
        st.code("\n".join(f"{who}   {code}" for who, code in done.codes.items()), language=None)
    st.caption("Start Musterbook there to go on: this dashboard stays with this season. Look through Set up first.")
