"""What sells, what sits, what runs out?"""

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import chart_words, charts, explained, explanations, outlook, tables, words

TITLE = "Stock"
ORDER = 30
GROUP = "Week"
ROLES = ("coordinator",)
LISTED = 8
TOTALS = ("item", "title", "said", "available", "sold_from_stock", "sell_through", "on_hand_said", "sold_a_week",
          "weeks_of_supply", "missing", "remote")  # fmt: skip
BY_TROOP = ("troop", "item", "available", "packages_sold", "sold_from_stock", "sell_through", "on_hand_or_expected",
            "weeks_of_supply", "missing")  # fmt: skip


def weeks_left(read: Readings) -> float:
    """Weeks of the season after the week chosen."""
    days: int = (read.rules()["last_day"] - read.as_of).days
    return max(days / 7, 0)


def said(row: Row, left: float) -> str:
    """Whether an item sells, sits or runs out."""
    if not row["is_stocked"]:
        return "never held by troops"
    if row["available"] <= 0:
        return "none supplied"
    if row["on_hand_or_expected"] <= 0:
        return "none left" if left > 0 else "sold"
    weeks = row["weeks_of_supply"]
    if weeks is None:
        return "sits: none left the stock lately"
    if weeks < min(1, left):
        return "runs out within a week"
    return "sits: more than the season needs" if weeks > left else "sells"


def state(area: Row, totals: tuple[Row, ...], items: tuple[Row, ...], left: float) -> str:
    """One sentence of the state, as Markdown."""
    out = words.bold(words.of(area["stocked_sold"], area["stocked_available"], area["sell_through"]))
    parts = [f"{out} packages have left the troops' stock"]
    known = sorted((row for row in totals if row["sell_through"] is not None), key=lambda row: row["sell_through"])
    if len(known) > 1:
        parts.append(f"{words.bold(known[-1]['title'])} sells best, {words.bold(known[0]['title'])} least")
    low = sum(said(row, left) in {"runs out within a week", "none left"} for row in items)
    if low and left > 0:
        parts.append(f"{words.number(low)} times a troop is out of an item or will be within a week")
    gone = [row for row in items if row["missing"]]
    short = sum(row["missing"] for row in gone)
    if short:
        troops = len({row["troop"] for row in gone})
        parts.append(
            f"{words.bold(words.plural(short, 'package'))} not accounted for in {words.plural(troops, 'troop')}"
        )
    return "; ".join(parts) + "."


def area_items(totals: tuple[Row, ...], left: float) -> None:
    """The area's items."""
    rows = [
        row
        | {
            "said": said(row, left),
            "on_hand_said": words.cases(row["on_hand_or_expected"], row["packages_per_case"])
            if row["is_stocked"]
            else "",
        }
        for row in totals
    ]
    config = st.column_config
    frame = pl.DataFrame(rows, infer_schema_length=None).select(TOTALS)
    tables.table(
        "item_totals", frame, alt="The area's items", key="area_items",
        more={
            "title": config.TextColumn("What it is"),
            "said": config.TextColumn("How it goes", help="Set against the weeks left in the season.", width=130),
            "on_hand_said": config.TextColumn("On hand", help="Packages; full cases in brackets.", alignment="right"),
        },
    )  # fmt: skip
    names = [name for name in TOTALS if name not in {"item", "title", "said", "on_hand_said"}]
    explained.columns_made("item_totals", [*names, "on_hand_or_expected"], totals)


def short_list(title: str, rows: list[Row], key: str, none: str) -> None:
    """A short list of troops and items, with the way on to the troop."""
    st.subheader(title, anchor=False)
    if not rows:
        st.markdown(none)
        return
    frame = pl.DataFrame(rows[:LISTED], infer_schema_length=None).select(
        "troop", "item", "on_hand_or_expected", "weeks_of_supply"
    )
    tables.table("items", frame, alt=title, key=key, opens_troop=True)
    if len(rows) > LISTED:
        st.caption(f"and {len(rows) - LISTED:,} more in the table below")


def lists(read: Readings, items: tuple[Row, ...], left: float) -> None:
    """What runs out, what sits, what is not accounted for."""
    held = [row for row in items if row["is_stocked"] and row["available"] > 0]
    low = [row for row in held if said(row, left) in {"runs out within a week", "none left"}] if left > 0 else []
    low.sort(key=lambda row: (row["weeks_of_supply"] or 0, -row["sold_from_stock"], row["troop"]))
    slow = [row for row in held if said(row, left).startswith("sits")]
    slow.sort(key=lambda row: (-row["on_hand_or_expected"], row["troop"]))
    gone = sorted((row for row in held if row["missing"]), key=lambda row: (-abs(row["missing"]), row["troop"]))
    one, two = st.columns(2, gap="medium")
    with one:
        short_list("Out, or runs out within a week", low, "runs_out", "Nothing runs out within a week.")
    with two:
        short_list("Sits", slow, "sits", "Nothing sits: at this pace all of it sells within the season.")
    st.subheader("Not accounted for", anchor=False)
    if not gone:
        st.markdown("Every package counted is accounted for.")
        return
    why = explanations.likeliest(read)
    told = [row | {"why": why.get((row["troop"], "count", row["item"]), "")} for row in gone]
    frame = pl.DataFrame(told, infer_schema_length=None).select("troop", "item", "on_hand", "missing", "why")
    tables.table(
        "items", frame, alt="Packages not accounted for", key="gone", opens_troop=True,
        more={"why": st.column_config.TextColumn("Likeliest explanation", width="large")},
    )  # fmt: skip
    st.caption("Most often a record is late or a figure was mistyped. Negative: more were counted than expected.")


def one_figure(items: tuple[Row, ...]) -> None:
    """What one troop sold of one item, in one figure, and how it is made."""
    st.subheader("What a troop sold of an item", anchor=False)
    with st.container(horizontal=True):
        troop = st.selectbox(
            "Troop", sorted({row["troop"] for row in items}), index=None, key="stock_troop", width=180,
            placeholder="Type its code",
        )  # fmt: skip
        codes = [row["item"] for row in items if row["troop"] == troop]
        item = st.selectbox("Item", codes, index=None, key="stock_item", placeholder="Choose an item", width=180)
    row = next((row for row in items if (row["troop"], row["item"]) == (troop, item)), None)
    if row is None:
        st.caption("Choose a troop and an item.")
        return
    names = ("packages_sold", "sold_from_stock", "remote", "on_hand", "missing")
    explained.figures([("items", name) for name in names], row)


def show() -> None:
    """The screen."""
    read = readings.now()
    area, totals, items = read.row("area"), read.rows("item_totals"), read.rows("items")
    if area is None or not any(row["available"] for row in totals):
        st.info("No packages have been supplied yet. Take in the list of what was supplied to see what sells.")
        tables.go("submissions", "Take files in")
        return
    left = weeks_left(read)
    st.markdown(f"#### {state(area, totals, items, left)}")
    explained.figures([("area", "sell_through"), ("area", "on_hand"), ("area", "missing"), ("area", "remote")], area)
    st.subheader("Items of the area", anchor=False)
    area_items(totals, left)
    lists(read, items, left)
    one_figure(items)
    st.subheader("What will still go out", anchor=False)
    outlook.sentence(read)
    outlook.bars([row for row in read.rows("outlook") if row["item"] and row["troop"] is None], "item")
    tables.go("orders", "See who could give whom what, and what to fetch")
    st.subheader("Sell-through by troop and item", anchor=False)
    st.caption(
        "Per cent of the packages available that have left the troop's stock; the stronger the shade, the more."
        + words.drawn(len({row["troop"] for row in items}), charts.MOST_TROOPS, "the most on hand")
    )
    st.altair_chart(
        charts.sell_through(read.frame("items"), [row["item"] for row in totals]), alt=chart_words.sell_through(totals)
    )
    with st.expander("Every troop and item"):
        frame = read.frame("items").filter(pl.col("available") != 0).select(BY_TROOP)
        tables.table("items", frame, alt="Every troop and item", key="items", opens_troop=True)
        explained.columns_made("items", list(BY_TROOP[2:]), [row for row in items if row["available"]])


show()
