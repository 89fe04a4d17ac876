"""Something agreed on a screen is done, and said on the page drawn anew.

Comes in: what to do, what is said afterwards. Goes out: the page drawn anew, or why it could not be done.
"""

from collections.abc import Callable

import streamlit as st

from dashboard.parts import words
from pipelines.definitions.errors import Stop


def done(act: Callable[[], object], told: str, key: str) -> None:
    """Does it and draws the page anew, where `said` of the same key says so; or says why it could not be."""
    try:
        act()
    except Stop as stop:
        st.warning(words.plain(str(stop)))
        return
    st.session_state[key] = told
    st.rerun()


def said(key: str) -> None:
    """Says once what was done before the page was drawn anew."""
    if told := st.session_state.pop(key, ""):
        st.success(words.plain(told))
