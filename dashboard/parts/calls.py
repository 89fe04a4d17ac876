"""A call to make, on the page: the reason, the amount, the leader's number, and what to say.

Comes in: calls of pipelines.follow_up.first_calls. Goes out: cards on the page.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import tables, words
from pipelines.definitions.exception_rules import rule
from pipelines.follow_up.first_calls import RANKING, Call, by_troop, text

FOLLOW_UP = "screens/follow_up.py"
MARKS = {"act now": "‼ act now", "ask": "? ask", "watch": "· watch"}


def reach(troop: Row | None) -> str:
    """A leader's name, number and address."""
    return ", ".join(str(troop[name]) for name in ("leader", "phone", "email") if troop.get(name)) if troop else ""


def card(call: Call, currency: str) -> None:
    """One call."""
    with st.container(border=True, gap="xxsmall"):
        with st.container(horizontal=True, vertical_alignment="center", horizontal_alignment="distribute"):
            tables.way_to_troop(call.troop)
            if call.amount is not None:
                st.markdown(words.bold(words.money(call.amount, currency)), width="content")
        st.markdown(words.plain(call.reason))
        contact = ", ".join(part for part in (call.leader, call.phone, call.email) if part)
        st.markdown(words.aside(" · ".join(part for part in (call.next_step, contact) if part)))
        with st.expander("What to say or send", key=f"say_{call.troop}"):
            st.code(call.text, language=None, wrap_lines=True)
        more = len(call.rows) - 1
        st.page_link(
            FOLLOW_UP,
            label=f":blue[{'Follow up' if not more else f'Follow up this and {words.number(more)} more'} →]",
            query_params=tables.address(call.troop),
        )


def cards(found: list[Call], currency: str) -> None:
    """The first calls, the most pressing first, and how they are ranked."""
    for call in found:
        card(call, currency)
    with st.expander("How is this ranked?"):
        st.markdown(words.plain(RANKING))


def together(waiting: Sequence[Row], read: Readings, troop: str, currency: str) -> None:
    """All that waits to be asked of one troop, the heaviest first, what to say, and the way to follow it up."""
    listed = by_troop(waiting).get(troop, [])
    if listed:
        st.markdown("\n".join(f"- {_said(row, currency)}" for row in listed))
        people = read.facts("troops", troop)
        leader = (people[0]["leader"] or "") if people else ""
        with st.expander("What to say or send", key=f"say_{troop}"):
            st.code(text(troop, leader, listed, read.rules()["title"], read.as_of), language=None, wrap_lines=True)
    st.page_link(FOLLOW_UP, label=":blue[Follow up →]", query_params=tables.address(troop))


def _said(row: Mapping[str, Any], currency: str) -> str:
    """An exception in a line: how pressing, what was found, what is at stake, what to do."""
    label = f"{rule(row['rule']).label} {row['subject']}".strip()
    amount = f", {words.bold(words.money(row['at_stake'], currency))} at stake" if row["at_stake"] is not None else ""
    told = words.plain(f"{row['what']} {row['next_step']}")
    return f"{words.plain(MARKS[row['severity']])}: {words.bold(label)}{amount}. {told}"
