"""The opening orders and the day of delivery, on the page.

Comes in: the readings of this run. Goes out: sentences, the orders judged, loads as a picture, lists to print, and a
form for what came differently.
"""

import polars as pl
import streamlit as st

from dashboard.data import actions, downloads, readings
from dashboard.data.readings import Readings
from dashboard.parts import outlook_charts, tables, words
from pipelines.definitions.errors import Stop
from pipelines.figures.delivery import delivery_day
from pipelines.follow_up.taken_up import came
from pipelines.messages.before_season import delivery_lines, opening_sentence
from pipelines.reports.before_season import PAPERS, load_rows

SAID = "delivery_said"
MARKS = {"above": "‼ above", "thin": "? thin", "fits": "✓ fits"}


def show(read: Readings, week: int) -> None:
    """Everything before the season."""
    orders = read.weeks("opening")
    st.markdown(words.plain(opening_sentence(orders)))
    if not orders:
        return
    rank = list(MARKS)
    listed = sorted(orders, key=lambda row: (rank.index(row["word"]), row["troop"]))
    frame = pl.DataFrame({
        "Troop": [row["troop"] for row in listed], "How it fits": [MARKS[row["word"]] for row in listed],
        "Ordered": [row["ordered"] for row in listed], "Why": [row["reason"] for row in listed],
        "Proposal, in cases": [row["proposal"] for row in listed],
    })  # fmt: skip
    config = st.column_config
    st.dataframe(
        frame, hide_index=True, alt="Opening orders", key="opening",
        height="content" if frame.height <= 12 else tables.ROW_PIXELS * 12,
        column_config={
            "Troop": config.TextColumn(pinned=True, width=64), "Why": config.TextColumn(width=620),
            "How it fits": config.TextColumn(width=84), "Ordered": config.NumberColumn(width=74, format="localized"),
        },
    )  # fmt: skip
    delivery(read, week)


def delivery(read: Readings, week: int) -> None:
    """The day of delivery: cases, loads and slots, the lists, and what came differently."""
    rules = readings.season().plan.delivery
    room = read.vehicles()
    terms = read.weeks("opening_terms")
    made = delivery_day(terms, room, rules.doors, rules.minutes_a_vehicle, rules.minutes_a_case)
    st.markdown(words.bold(f"The day of delivery{f', {words.full_day(rules.on)}' if rules.on else ''}"))
    for line in delivery_lines(made, bool(room)):
        st.markdown(words.plain(line))
    if rows := load_rows(made):
        used = {name: room[name] for name in made.loads.vehicles}
        parts = "; ".join(f"{name} {made.loads.vehicles[name]} of {cases} cases" for name, cases in used.items())
        st.altair_chart(outlook_charts.loads(rows, used), alt=f"Cases on each vehicle: {parts}.")
        frame = pl.DataFrame(rows).rename({name: name.capitalize() for name in rows[0]})
        st.dataframe(frame, hide_index=True, alt="Loads, with their slot and door", key="loads")
    links = [
        f"[{label}]({downloads.address(name, week)})" for name, label in PAPERS.items() if rows or "loads" not in name
    ]
    st.markdown(f"Lists: {' · '.join(links)}")
    if read.known_on is None:
        differently(read)


def differently(read: Readings) -> None:
    """What came differently is written down, and stands under Follow up as a question to the organisation."""
    terms = read.weeks("opening_terms")
    with st.form("came_differently", border=True):
        st.markdown(words.bold("What came differently?"))
        left, middle, right = st.columns(3)
        troop = left.selectbox("Troop", list(dict.fromkeys(row["troop"] for row in terms)), key="came_troop")
        item = middle.selectbox("Item", list(dict.fromkeys(row["item"] for row in terms)), key="came_item")
        packages = right.number_input("Packages that came", 0, 100_000, 0, key="came_packages")
        said = st.text_input("Words, such as what the driver said", max_chars=300, key="came_words")
        if st.form_submit_button("Write it down") and troop and item:
            try:
                new = actions.write_down([came(troop, item, int(packages), said)])
            except Stop as stop:
                st.warning(words.plain(str(stop)))
                return
            st.session_state[SAID] = (
                f"{troop}, {item}: written down. Where it differs from the order it stands under Follow up."
                if new else "That stands there already."
            )  # fmt: skip
            st.rerun()
    if told := st.session_state.pop(SAID, ""):
        st.success(words.plain(told))
