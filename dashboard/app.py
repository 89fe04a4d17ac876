"""The app: one navigation by role, one frame, a page for each screen.

Comes in: who is signed in and the address. Goes out: the screen. A Stop is said in its own sentence.
"""

from pathlib import Path

import streamlit as st

from dashboard.data import readings, snapshots
from dashboard.parts import frame, words
from dashboard.parts.screen_list import in_groups, screens_of
from pipelines.accounts.turns import Full
from pipelines.definitions.errors import Stop

MARK = Path(__file__).with_name("mark.png")


def show() -> None:
    """One run of the app, in its account's turn: many pages of one account do not hold up another's."""
    try:
        with snapshots.SHELF.runs.of(snapshots.viewer().name):
            screen()
    except Full:
        st.warning("Many pages of yours are being made already. Wait for them, then load this one again.")


def screen() -> None:
    """The screen that is asked for, of those that the viewer has."""
    st.set_page_config(page_title="Musterbook", page_icon=str(MARK), layout="wide")
    screens = screens_of(snapshots.role())
    pages = {
        group: [st.Page(one.file, title=one.title, help=one.question, default=one is screens[0]) for one in some]
        for group, some in in_groups(screens).items()
    }
    page = st.navigation(pages, position="top")
    try:
        with readings.run() as read:
            frame.head(read, page.title, asks_week=any(one.asks_week for one in screens if one.title == page.title))
            page.run()
    except Stop as stop:
        st.warning(words.plain(str(stop)))
        st.caption("Nothing is lost. Load this page again when that is mended.")


show()
