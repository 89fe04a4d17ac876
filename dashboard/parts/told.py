"""People told of pages against orders on them, as a small table with its counts.

Comes in: Invitations by picture. Goes out: the table on the page.
"""

from collections.abc import Mapping

import streamlit as st

from dashboard.parts import words
from pipelines.figures.invitations import ALL, Invitations

NAMED = {"no": "No own picture", "still": "Own picture", "film": "Own film", ALL: "All pages"}


def show(found: Mapping[str, Invitations], none: str) -> None:
    """The table, or `none` where there is nothing to show."""
    st.subheader("People told, and orders", anchor=False)
    if not found:
        st.markdown(words.plain(none))
        return
    lines = ["| | Pages | People told | Orders | Orders for every ten told |", "|:--|--:|--:|--:|:--|"]
    for name, one in found.items():
        said = words.number(one.for_ten, 1) if one.for_ten is not None else words.NOTHING
        if one.low is not None:
            said += f" ({words.number(one.low, 1)} to {words.number(one.high, 1)})"
        counts = " | ".join(words.number(number) for number in (one.pages, one.told, one.orders))
        lines.append(f"| {NAMED[name]} | {counts} | {words.plain(said)} |")
    st.markdown("\n".join(lines))
    st.caption(
        "This season's own figures, with their 95 % interval where there are pages enough. They do not say why: who "
        "makes a picture may also tell other people. Nothing here promises an order."
    )
