"""What has each family taken, paid, and still to bring?"""

import streamlit as st

from dashboard.data import readings
from dashboard.data.snapshots import Row
from dashboard.parts import explained, own_troop, tables, words

TITLE = "Our families"
ORDER = 20
ROLES = ("leader",)
COLUMNS = ("participant", "packages", "charged", "paid_cash", "paid_card", "paid_online", "settled", "owes", "owes_0_7",
           "owes_8_14", "owes_15_30", "owes_over_30", "overpaid", "paid_ahead")  # fmt: skip


def state(rows: tuple[Row, ...], currency: str) -> str:
    """One sentence of the state, as Markdown."""
    owing = [row for row in rows if row["owes"] > 0]
    if not owing:
        return "Every family has paid for what it took."
    owes = sum(row["owes"] for row in owing)
    old = [row for row in owing if row["owes_15_30"] + row["owes_over_30"] > 0]
    since = f"; {words.bold(words.number(len(old)))} of them for over two weeks" if old else ""
    many = words.plural(len(owing), "family has", "families have")
    return f"{words.bold(many)} {words.bold(words.money(owes, currency))} still to bring{since}."


def card(row: Row, currency: str) -> None:
    """One family on a phone: what it took, what came back, what is open."""
    with st.container(border=True, gap="xxsmall"):
        with st.container(horizontal=True, horizontal_alignment="distribute"):
            st.markdown(words.bold(row["participant"]), width="content")
            if row["owes"] > 0:
                said = f"{words.money(row['owes'], currency)} still to bring"
            elif row["overpaid"] > 0:
                said = f"{words.money(row['overpaid'], currency)} too much"
            elif row["paid_ahead"] > 0:
                said = f"{words.money(row['paid_ahead'], currency)} paid ahead"
            else:
                said = "all paid"
            st.markdown(words.bold(said), width="content")
        took = f"{words.plural(row['packages'], 'package')}, {words.money(row['charged'], currency)} charged"
        paid = row["paid_cash"] + row["paid_card"] + row["paid_online"] + row["settled"]
        st.caption(words.plain(f"{took}; {words.money(paid, currency)} paid so far"))
        if row["owes"] > 0:
            st.page_link(
                "screens/send_week.py",
                label=f":blue[Mark what {words.plain(row['participant'])} hands in →]",
                query_params={"who": row["participant"]},
            )


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    troop = own_troop.choose(read)
    rows = read.rows("families", troop=troop)
    if not rows:
        st.info("No family has taken packages or sold online yet. Send your first week, and they stand here.")
        return
    st.markdown(f"#### {state(rows, currency)}")
    st.caption("Packages that are not paid for may still be with a family's buyers: ask before you judge.")
    owing = sorted(rows, key=lambda row: (-row["owes"], row["participant"]))
    for row in [row for row in owing if row["owes"] > 0][:20]:
        card(row, currency)
    with st.expander("Every family, as a table"):
        frame = read.frame("families", troop=troop).select(COLUMNS)
        tables.table("families", frame, alt="Our families", key="our_families")
        explained.columns_made("families", list(COLUMNS[1:]), rows)
    st.caption(
        "Participants are codes. A family that paid ahead has paid online for packages that it has yet to fetch: "
        "nothing is wrong."
    )


show()
