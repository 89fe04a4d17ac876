"""Which troop is ready, what is still open, who settles what with whom?"""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import agreed_actions, downloads, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import closing_words, doing, next_season, tables, words

TITLE = "Closing"
ORDER = 86
GROUP = "Season"
ROLES = ("coordinator",)
TOLD, CHOSEN = "closing_told", "closing_troop"


def state(rows: list[Row], money: Callable[[Decimal], str]) -> str:
    """One sentence of the state, as Markdown."""
    if not rows:
        return "There is no troop yet. Drop the troops list on Submissions."
    counted = {one: sum(row["state"] == one for row in rows) for one in closing_words.STATES}
    parts = [
        f"{words.bold(words.number(count))} {closing_words.STATES[one]}" for one, count in counted.items() if count
    ]
    pays = sum((row["pays"] for row in rows if row["pays"] > 0), Decimal(0))
    said = f"Of {words.plural(len(rows), 'troop')} {words.listed(parts)}; {words.bold(money(pays))} is still to be paid"
    apart = sum((row["with_organisation"] for row in rows), Decimal(0))
    return f"{said}; {words.bold(money(apart))} is with the organisation." if apart else f"{said}."


def every_troop(rows: list[Row], points: list[Row], currency: str) -> None:
    """The closing list: a row a troop, those that are furthest from ready last."""
    amount = st.column_config.NumberColumn(format=tables.MONEY.get(currency, "%,.2f"))
    first: dict[str, str] = {}
    for point in points:
        first.setdefault(point["troop"], point["what"])
    listed = sorted(rows, key=lambda row: (list(closing_words.STATES).index(row["state"]), row["troop"]))
    st.dataframe(
        pl.DataFrame(
            [[row["troop"], first.get(row["troop"], "Nothing is open."), row["open_points"],
              closing_words.STATES[row["state"]], row["owed"], row["with_organisation"], row["pays"], row["settle_by"]]
             for row in listed],
            schema=["Troop", "First of what is open", "Open", "State", "Owed", "With the organisation",
                    "Pays (less than nil: gets)", "By"], orient="row",
        ), hide_index=True, alt="The closing list",
        column_config={"Troop": st.column_config.TextColumn(pinned=True, width=64),
                       "First of what is open": st.column_config.TextColumn(width=260),
                       "Open": st.column_config.NumberColumn(width=56), "Owed": amount,
                       "With the organisation": amount, "Pays (less than nil: gets)": amount,
                       "By": st.column_config.DateColumn(format="D MMM")},
    )  # fmt: skip


def one_troop(read: Readings, rows: list[Row], money: Callable[[Decimal], str], week: int) -> None:
    """One troop after the other: what is open, what is settled, closing and confirming."""
    st.subheader("One after the other", anchor=False)
    codes = [row["troop"] for row in rows]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        troop = st.selectbox("Troop", codes, key=CHOSEN, width=230)
        later = codes[(codes.index(troop) + 1) % len(codes)]
        st.button(f"Next: {later}", on_click=_choose, args=(later,))
    row = next(one for one in rows if one["troop"] == troop)
    st.markdown(f"{words.bold(closing_words.paid(row, money))} {closing_words.stands(row)}")
    closing_words.points(read.rows("closing_points", troop=troop))
    st.markdown(f"[{words.bold('Its settlement, to print and sign')}]"
                f"({downloads.address('settlement.pdf', week, troop)})")  # fmt: skip
    if read.known_on is None:
        _decide(row, troop)
        _debts(read, troop, money)
    tables.way_to_troop(troop)


def _choose(troop: str) -> None:
    st.session_state[CHOSEN] = troop


def _decide(row: Row, troop: str) -> None:
    """Closing, confirming, opening again."""
    if row["close_no"] is None:
        anyway = False
        if not row["is_ready"]:
            anyway = st.checkbox("Close it though something is open", key=f"anyway_{troop}")
        if st.button(f"Close troop {troop}", type="primary", disabled=not (row["is_ready"] or anyway)):
            _done(
                lambda: agreed_actions.close((troop,), anyway=anyway), f"Troop {troop} is closed. Both now confirm it."
            )
        return
    with st.container(horizontal=True):
        if row["confirmed_by_coordinator"] is None and st.button("Confirm for the area", type="primary"):
            _done(lambda: agreed_actions.confirm((troop,)), f"Troop {troop} is confirmed for the area.")
        if st.button("What came in after the close?"):
            with st.spinner("Looking back"):
                closing_words.after(agreed_actions.after_close(troop), readings.now().rules()["currency"])
    with st.expander("Open it again"), st.form(f"reopen_{troop}"):
        reason = st.text_input("The reason, which is kept")
        if st.form_submit_button("Open again"):
            _done(lambda: agreed_actions.reopen((troop,), reason), f"Troop {troop} is open again.")


def _debts(read: Readings, troop: str, money: Callable[[Decimal], str]) -> None:
    """Debts of families that are handed over to the organisation, by code, with the evidence beside them."""
    debts = {row["participant"]: row for row in read.rows("debts", troop=troop) if row["taken_back_on"] is None}
    owing = {row["participant"]: row["owes"] for row in read.rows("families", troop=troop) if row["owes"] > 0}
    if not debts and not owing:
        return
    with st.expander(f"Debts of families ({len(debts)} handed over)"):
        for code, debt in debts.items():
            _one_debt(troop, code, debt, money)
        if debts:
            week = readings.season().week_number(read.as_of)
            st.markdown(f"[{words.bold('What the book knows of them, as a table')}]"
                        f"({downloads.address('debts.csv', week, troop)})")  # fmt: skip
        free = {code: amount for code, amount in owing.items() if code not in debts}
        if free:
            _hand_over(troop, free, money)
        st.caption(
            "What a family owes may be with its buyers still, and is no proof of anything. Receipts stay with the "
            "leader; here stand codes, weeks and amounts."
        )


def _one_debt(troop: str, code: str, debt: Row, money: Callable[[Decimal], str]) -> None:
    came = f"; {money(debt['came_in'])} came in since" if debt["came_in"] else ""
    st.markdown(f"{words.bold(code)}: {money(debt['amount'])}, {debt['state']}{came}. {words.plain(debt['words'])}")
    with st.container(horizontal=True):
        if debt["accepted_on"] is None and st.button("The organisation has accepted it", key=f"accept_{code}"):
            _done(lambda: agreed_actions.answer_debt("accept", troop, code, None, ""), f"{code}: accepted.")
        if st.button("Take it back", key=f"back_{code}"):
            _done(lambda: agreed_actions.answer_debt("take_back", troop, code, None, ""), f"{code}: taken back.")
    if debt["accepted_on"] is not None:
        with st.form(f"came_{code}", border=False):
            amount = st.number_input("Money that came in to it", min_value=0.01, step=1.0, key=f"amount_{code}")
            if st.form_submit_button("Write down"):
                paid = Decimal(str(round(amount, 2)))
                _done(lambda: agreed_actions.answer_debt("came_in", troop, code, paid, ""), f"{code}: written down.")


def _hand_over(troop: str, owing: dict[str, Decimal], money: Callable[[Decimal], str]) -> None:
    with st.form(f"hand_over_{troop}"):
        code = st.selectbox(
            "Hand over what this family owes", list(owing), format_func=lambda one: f"{one}: {money(owing[one])}"
        )
        note = st.text_input("When was it asked for, what was promised, what is agreed?")
        if st.form_submit_button("Hand over"):
            _done(lambda: agreed_actions.hand_over(troop, code, owing[code], note), f"{code}: handed over.")


def _done(act: Callable[[], Any], told: str) -> None:
    """Does something and says so on the page drawn anew, or why it could not be."""
    with st.spinner("One moment"):
        doing.done(act, told, TOLD)


def show() -> None:
    """The screen."""
    read = readings.now()
    rules = read.rules()
    rows = list(read.rows("closing"))

    def money(amount: Decimal) -> str:
        return words.money(amount, rules["currency"])

    st.markdown(f"#### {state(rows, money)}")
    doing.said(TOLD)
    if not rows:
        return
    every_troop(rows, list(read.rows("closing_points")), rules["currency"])
    one_troop(read, rows, money, readings.season().week_number(read.as_of))
    if not read.known_on:
        next_season.begin()


show()
