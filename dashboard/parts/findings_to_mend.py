"""Findings on a screen: grouped as everywhere, what is asked, and what goes back to whoever sent the file.

Comes in: Lines and Questions (pipelines/messages/finding_lines.py), or a landed file by its number. Draws on the page.
"""

from collections.abc import Sequence

import polars as pl
import streamlit as st

from dashboard.data import downloads
from dashboard.data.readings import Readings
from dashboard.parts import words
from pipelines.messages.finding_lines import Line, Question

MOST_ROWS = 12  # a longer table scrolls


def table(listed: Sequence[Line], questions: Sequence[Question], key: str) -> None:
    """What is to mend, to ask and to know, a line each."""
    rows = [
        {"What": "to know" if line.is_note else "to mend", "Where": line.where, "Found": line.found,
         "Expected": line.expected, "What to do": line.how}
        for line in listed
    ]  # fmt: skip
    rows += [
        {"What": "to ask", "Where": one.where, "Found": "", "Expected": "", "What to do": one.asked}
        for one in questions
    ]
    shown = pl.DataFrame(rows)
    st.dataframe(
        shown,
        hide_index=True,
        alt="What was found",
        key=f"found_{key}",
        height="content" if shown.height <= MOST_ROWS else 440,
    )


def in_words(listed: Sequence[Line], questions: Sequence[Question]) -> None:
    """The same as sentences, for who reads them on a phone."""
    for line in listed:
        where = f"{words.bold(line.where)}: " if line.where else ""
        st.markdown(f"{'To know' if line.is_note else 'To mend'}. {where}{words.plain(line.sentence())}")
    for one in questions:
        where = f"{words.bold(one.where)}: " if one.where else ""
        st.markdown(f"A question. {where}{words.plain(one.asked)}")


def goes_back(read: Readings, file_no: int, unit: str, key: str) -> None:
    """What was found in a landed file, the copy with notes to fetch, and a text to send back."""
    back = read.returned(file_no, unit)
    if back is None or not (back.findings or back.questions):
        return
    table(back.lines, back.questions, key)
    copy = downloads.copy_address(file_no, unit)
    st.markdown(f"[Copy with a note on each cell]({copy}), to send back with this text:")
    st.code(back.text(), language=None, wrap_lines=True)
