"""What is still open before our season can end?"""

from decimal import Decimal

import streamlit as st

from dashboard.data import agreed_actions, downloads, readings
from dashboard.parts import closing_words, doing, own_troop, words

TITLE = "Our closing"
ORDER = 45
ROLES = ("leader",)
TOLD = "our_closing_told"


def show() -> None:
    """The screen."""
    read = readings.now()
    troop = own_troop.choose(read)
    row = read.row("closing", troop=troop)
    if row is None:
        st.info("Nothing is known of the troop yet.")
        return
    rules = read.rules()

    def money(amount: Decimal) -> str:
        return words.money(amount, rules["currency"])

    points = read.rows("closing_points", troop=troop)
    many = words.bold(words.plural(len(points), "thing"))
    st.markdown(f"#### {many} still open. {words.plain(closing_words.stands(row))}")
    doing.said(TOLD)
    closing_words.points(points)
    st.markdown(words.plain(closing_words.paid(row, money)))
    if row["close_no"] is not None and row["confirmed_by_leader"] is None:
        if st.button("Our figures are right: confirm", type="primary"):
            doing.done(lambda: agreed_actions.confirm_own(troop), "Thank you. It is confirmed for your troop.", TOLD)
        st.caption("If something is not right, call your coordinator: a closed troop can be opened again.")
    week = readings.season().week_number(read.as_of)
    st.markdown(f"[{words.bold('Our settlement, to print and sign')}]"
                f"({downloads.address('settlement.pdf', week, troop)})")  # fmt: skip


show()
