"""What should we have of each item, and what was counted?"""

import streamlit as st

from dashboard.data import readings
from dashboard.data.snapshots import Row
from dashboard.parts import own_troop, tables, words

TITLE = "Our stock"
ORDER = 15
ROLES = ("leader",)
COLUMNS = ("item", "expected_on_hand", "on_hand", "missing", "available", "sold_from_stock", "sell_through",
           "weeks_of_supply")  # fmt: skip


def state(rows: list[Row]) -> str:
    """One sentence of the state, as Markdown."""
    there = sum(row["on_hand_or_expected"] for row in rows)
    differing = [row["item"] for row in rows if row["missing"]]
    not_counted = sum(row["on_hand"] is None for row in rows)
    told = f"{words.bold(words.plural(there, 'package'))} on hand, of {words.plural(len(rows), 'item')}"
    if differing:
        told += f"; the count of {words.bold(words.listed(differing))} is not what should be there"
    if not_counted:
        told += f"; {words.bold(words.plural(not_counted, 'item'))} not counted this week"
    return f"{told}."


def card(row: Row, title: str) -> None:
    """One item on a phone: what should be there, what was counted, and how long it lasts."""
    with st.container(border=True, gap="xxsmall"):
        with st.container(horizontal=True, horizontal_alignment="distribute"):
            st.markdown(words.bold(title), width="content")
            st.markdown(words.bold(words.number(row["on_hand_or_expected"])), width="content")
        if row["on_hand"] is None:
            said = "not counted this week: what should be there"
        elif row["missing"] > 0:
            said = f"counted; {words.plural(row['missing'], 'package')} not accounted for"
        elif row["missing"] < 0:
            said = f"counted; {words.number(-row['missing'])} more than should be there"
        else:
            said = "counted, as it should be"
        lasts = row["weeks_of_supply"]
        if lasts is not None:
            said += f"; lasts about {words.number(lasts, 1)} weeks"
        st.caption(words.plain(said))


def show() -> None:
    """The screen."""
    read = readings.now()
    troop = own_troop.choose(read)
    rows = [row for row in read.rows("items", troop=troop) if row["is_stocked"]]
    if not rows:
        st.info("The troop has no packages yet. Once a supply is written down, its items stand here.")
        return
    st.markdown(f"#### {state(rows)}")
    codes = readings.season().codes
    for row in rows:
        card(row, f"{codes[row['item']].title} ({row['item']})" if row["item"] in codes else row["item"])
    tables.go("send_week", "Count them")
    with st.expander("Every item, as a table"):
        tables.table("items", read.frame("items", troop=troop).select(COLUMNS), alt="Our stock", key="our_stock")


show()
