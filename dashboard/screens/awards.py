"""Who is one step away, and what do we buy?"""

from collections import Counter
from decimal import Decimal

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import explained, tables, words

TITLE = "Awards"
ORDER = 72
GROUP = "Season"
ROLES = ("coordinator",)
BUY = ["troop", "title", "earned", "handed", "to_buy", "cost"]
AREA = ["title", "earned", "handed", "in_stock", "to_buy", "cost"]
STATES = ("earned", "one away", "begun", "open")


def state(rows: tuple[Row, ...], buying: list[Row], currency: str) -> str:
    """One sentence of the state, as Markdown."""
    away = sum(row["state"] == "one away" for row in rows)
    pieces, cost = sum(row["to_buy"] for row in buying), sum((row["cost"] for row in buying), Decimal(0))
    told = f"{words.bold(words.plural(away, 'participant is', 'participants are'))} one step away from an award"
    return f"{told}; {words.bold(words.plural(pieces, 'piece'))} to buy, {words.bold(words.money(cost, currency))}."


def by_troop(rows: tuple[Row, ...]) -> pl.DataFrame:
    """How many in each troop stand where, without a participant's code."""
    counts: dict[str, Counter[str]] = {}
    for row in rows:
        counts.setdefault(row["troop"], Counter())[row["state"]] += 1
    return pl.DataFrame(
        [{"troop": troop} | {name: found[name] for name in STATES} for troop, found in sorted(counts.items())]
    )


def postage(read: Readings, currency: str) -> None:
    """Where the organisation's postage is not what the season's tiers come to: a list to send to it."""
    rows = [row for row in read.rows("postage") if row["differs"]]
    if not read.rows("postage"):
        return
    st.subheader("Postage of posted orders", anchor=False)
    if not rows:
        st.markdown("The organisation's postage is what the season's tiers come to, order by order.")
        return
    over = sum(row["differs"] for row in rows)
    more = "more" if over >= 0 else "less"
    st.markdown(
        f"{words.bold(words.plural(len(rows), 'order'))} differ, {words.bold(words.money(abs(over), currency))} {more} "
        "in all: a question for the organisation. It is in no figure, and no troop is asked for it."
    )
    frame = pl.DataFrame(rows, infer_schema_length=None)
    columns = ["order_no", "troop", "placed_on", "packages", "zone", "asked", "ours", "differs"]
    tables.table("postage", frame.select(columns), alt="Postage that differs", key="postage")
    explained.columns_made("postage", columns[3:], rows)
    st.caption("The same list is postage.csv in the roll-up.")


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    rows = read.rows("awards")
    if not rows:
        st.info("The season names no awards yet, or nobody is registered. Awards are set under Set up.")
        postage(read, currency)
        return
    buying = read.rows("to_buy")
    area = [row for row in buying if row["troop"] is None]
    st.markdown(f"#### {state(rows, area, currency)}")
    left, right = st.columns(2, gap="large")
    with left:
        st.subheader("What to buy, in all", anchor=False)
        if area:
            frame = pl.DataFrame(area, infer_schema_length=None).select(AREA)
            tables.table("to_buy", frame, alt="What to buy in all", key="to_buy_area")
            explained.columns_made("to_buy", BUY[2:], area, "area")
        else:
            st.markdown("Nobody has earned an award yet.")
    with right:
        st.subheader("How many stand where, by troop", anchor=False)
        counts = by_troop(rows)
        tables.table(
            "awards", counts, alt="Awards by troop", key="awards_by_troop", opens_troop=True,
            more={name: st.column_config.NumberColumn(name.capitalize(), format="localized") for name in STATES},
        )  # fmt: skip
    with st.expander("What each troop still gets"):
        troops = [row for row in buying if row["troop"]]
        if troops:
            each = pl.DataFrame(troops, infer_schema_length=None).select(BUY)
            tables.table("to_buy", each, alt="What each troop still gets", key="to_buy_troops")
            explained.columns_made("to_buy", BUY[2:], troops, "troops")
        else:
            st.markdown("Nothing yet.")
    st.caption(
        "Who is one step away, and from which step, their leaders see under Tonight. What is not earned yet can still "
        "be: steps count wherever they are done, until the season's last week is in."
    )
    postage(read, currency)


show()
