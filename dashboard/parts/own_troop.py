"""Which of her troops a leader is looking at.

Comes in: the readings of this run. Goes out: a code that is one of the viewer's own, whatever the page was told.
"""

import streamlit as st

from dashboard.data import snapshots
from dashboard.data.readings import Readings

KEY = "own_troop"


def choose(read: Readings) -> str:
    """The troop chosen; a leader of one troop is not asked. Raises Stop for somebody who leads none."""
    own = sorted(read.viewer.troops or ())
    if not own:
        snapshots.nobody()
    if len(own) == 1:
        return own[0]
    chosen = st.selectbox("Troop", own, key=KEY, width=230)
    return chosen if chosen in own else own[0]
