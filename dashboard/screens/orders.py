"""What will still sell, what do we order, who gives what to whom?"""

import polars as pl
import streamlit as st

from dashboard.data import actions, downloads, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import before_season, outlook, outlook_charts, tables, words
from pipelines.follow_up.taken_up import MOVE, agreed
from pipelines.messages.looking_ahead import drive_title, drives, of_kind, plan_sentence, to_leaders
from pipelines.reports.looking_ahead import PAPERS

TITLE = "Orders and moves"
ORDER = 75
GROUP = "Season"
ROLES = ("coordinator",)


def state(plan: tuple[Row, ...], cells: tuple[Row, ...]) -> str:
    """One sentence of the plan, as Markdown."""
    return words.plain(plan_sentence(plan, sum(row["short"] for row in cells)))


def moves(read: Readings, plan: tuple[Row, ...], cells: tuple[Row, ...]) -> None:
    """Who gives what to whom, a drive a row, with what to say to both leaders."""
    st.subheader("Who gives what to whom", anchor=False)
    found = drives(plan)
    if not found:
        st.markdown("No move is worth a drive now.")
        return
    st.caption("A proposal: nothing is posted. Both leaders agree, and both write the move down in their week.")
    towns = {row["troop"]: row["town"] for row in read.facts("troops")}
    titles = {row["code"]: row["title"] for row in read.season_items()}
    with st.grid(2, min_column_width=330):
        for rows in found:
            drive(read, rows, towns, titles)
    with st.expander("Every troop and item in one picture"):
        busy = {code for row in plan for code in (row["giver"], row["receiver"], row["troop"]) if code}
        shown = [row for row in cells if row["troop"] in busy]
        moved = of_kind(plan, "move")
        st.altair_chart(outlook_charts.moves(shown, moved), alt=outlook_charts.moves_words(moved))
        st.caption("Troops that give, get or fetch something. Each item has a scale of its own.")


def drive(read: Readings, rows: list[Row], towns: dict[str, str], titles: dict[str, str]) -> None:
    """One drive: what goes which way, why, and the words for both leaders."""
    with st.container(border=True, gap="xxsmall", height="stretch"):
        st.markdown(words.bold(drive_title(rows, towns)))
        st.markdown("\n".join(f"- {words.plain(row['reason'])}" for row in rows))
        with st.expander("What to say or send to both", key=f"say_drive_{rows[0]['drive']}"):
            st.code(to_leaders(rows, titles, read.rules()["title"]), language=None, wrap_lines=True)
        taken_up = {row["subject"] for row in read.rows("exceptions") if row["rule"] == MOVE}
        if {entry.key.subject for entry in agreed(rows)} <= taken_up:
            st.markdown("✓ Agreed; it stands under Follow up with both troops until both have reported it.")
        elif read.known_on is None and st.button("Both agree: follow it up", key=f"agree_{rows[0]['drive']}"):
            actions.write_down(agreed(rows))
            st.rerun()


def fetches(plan: tuple[Row, ...]) -> None:
    """What each troop fetches from the depot, or hands back, in whole cases."""
    st.subheader("What to fetch from the depot", anchor=False)
    listed = [row for row in plan if row["kind"] != "move"]
    if not listed:
        st.markdown("No case needs to be fetched now.")
        return
    config = st.column_config
    frame = pl.DataFrame({
        "Troop": [row["troop"] for row in listed],
        "Item": [row["item"] for row in listed],
        "Cases": [row["cases"] for row in listed],
        "Packages": [row["packages"] for row in listed],
        "On hand after moves": [row["have"] for row in listed],
        "Why": [row["reason"] for row in listed],
    })  # fmt: skip
    st.dataframe(
        frame, hide_index=True, alt="Cases to fetch", key="fetches",
        height="content" if frame.height <= tables.MOST_ROWS else tables.ROW_PIXELS * tables.MOST_ROWS,
        column_config={
            "Why": config.TextColumn(width=680), "Troop": config.TextColumn(pinned=True, width=64),
            "Item": config.TextColumn(width=64), "Cases": config.NumberColumn(width=64),
            "Packages": config.NumberColumn(width=84), "On hand after moves": config.NumberColumn(width=100),
        },
    )  # fmt: skip


def week_no(read: Readings) -> int:
    """The number of the week chosen."""
    return readings.season().week_number(read.as_of)


def lists(read: Readings, plan: tuple[Row, ...]) -> None:
    """The lists to print or to hand on."""
    week = week_no(read)
    some = {"plan-moves.csv": "move", "plan-fetch.csv": "fetch"}
    links = [
        f"[{label}]({downloads.address(name, week)})"
        for name, label in PAPERS.items()
        if (name not in some or of_kind(plan, some[name])) and (name != "plan.pdf" or plan)
    ]
    st.markdown(f"Lists: {' · '.join(links)}")


def ahead(read: Readings) -> None:
    """The outlook of the area, its items and its troops."""
    st.subheader("What will still go out", anchor=False)
    outlook.sentence(read)
    outlook.picture(read)
    rows = read.rows("outlook")
    left, right = st.columns(2, gap="large")
    with left:
        st.markdown(words.bold("By item, all troops together"))
        outlook.bars([row for row in rows if row["item"] and row["troop"] is None], "item")
    with right, st.expander("By troop"):
        outlook.bars([row for row in rows if row["troop"] and row["item"] is None], "troop")
    st.caption(outlook.CAUTION)
    with st.expander("How often the ranges held so far in this book"):
        outlook.held(read)


def show() -> None:
    """The screen."""
    read = readings.now()
    if not read.rows("standing"):
        st.info("No troop is known yet. Take in the troops list or the roster, then the first submissions.")
        tables.go("submissions", "Take files in")
        return
    plan, cells = read.rows("plan"), read.rows("plan_cells")
    if cells:
        st.markdown(f"#### {state(plan, cells)}")
        lists(read, plan)
        moves(read, plan, cells)
        fetches(plan)
    elif read.as_of < read.days()[-1]:
        st.markdown("#### The plan is made for the latest week. Choose it above to see it.")
    else:
        st.markdown(f"#### {outlook.NOTHING if outlook.row_of(read) is None else outlook.OVER}")
    ahead(read)
    folded = st.expander("Before the season: opening orders and the day of delivery", key="before", on_change="rerun")
    if folded.open:
        with folded:
            before_season.show(read, week_no(read))


show()
