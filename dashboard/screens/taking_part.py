"""Where are participants left out?"""

from itertools import pairwise

import streamlit as st

from dashboard.data import readings
from dashboard.data.snapshots import Row
from dashboard.parts import chart_words, charts, explained, tables, told, words
from pipelines.definitions.measures import measure
from pipelines.figures.invitations import for_others, invitations

TITLE = "Taking part"
ORDER = 40
GROUP = "Week"
ROLES = ("coordinator",)
MINIMUM = "this season's minimum: {}"
SHOWN = ("troop", "registered", "taking_part", "share", "share_low", "share_high", "average_per_registered",
         "average_per_active", "median_per_active", "top_tenth_part", "packages_sold", "goal")  # fmt: skip
STEPS = ["troop", *(f"step_{step}" for step in charts.STEPS)]


def state(area: Row, standing: tuple[Row, ...], low: list[str]) -> str:
    """One sentence of the state, as Markdown."""
    out = words.bold(words.of(area["registered_taking_part"], area["registered"], area["share"]))
    parts = [f"{out} registered participants take part"]
    nobody = [row["troop"] for row in standing if row["registered"] and not row["taking_part"]]
    if nobody:
        parts.append(f"in {words.plain(words.listed(nobody))} nobody does")
    missing = area["step_registered"] - area["step_contact"]
    if missing:
        parts.append(f"{words.bold(words.number(missing))} have no contact known")
    if low:
        parts.append(
            f"{words.plain(words.listed(low))} {'lies' if len(low) == 1 else 'lie'} below what chance and size explain"
        )
    return "; ".join(parts) + "."


def path(area: Row) -> None:
    """From registered to goal met."""
    st.subheader("From registered to goal met", anchor=False)
    st.altair_chart(charts.path(area), alt=chart_words.path(area))
    steps = [(name, area[f"step_{name}"]) for name in charts.STEPS]
    drops = [(was - now, later) for (_a, was), (later, now) in pairwise(steps[1:-1]) if was > now]
    if drops:
        lost, name = max(drops)
        step = measure("area", f"step_{name}").label.lower()
        st.markdown(f"The largest step down is before {words.bold(step)}: {words.plural(lost, 'participant')} fewer.")
    explained.columns_made("area", [f"step_{step}" for step in charts.STEPS], [area], "path")


def averages(area: Row, minimum: int) -> None:
    """How the packages are spread, and what goes online."""
    st.subheader("How packages are spread", anchor=False)
    explained.figures(
        [("area", "average_per_registered"), ("area", "average_per_active"), ("area", "median_per_active"),
         ("area", "top_tenth_part"), ("area", "online_share"), ("area", "mean_posted_order")],
        area,
        notes={
            "mean_posted_order": MINIMUM.format(minimum) if minimum else "",
            "median_per_active": "half have at least as many",
            "top_tenth_part": "of all participants' packages",
        },
    )  # fmt: skip


def shares(standing: tuple[Row, ...], area: Row) -> None:
    """The share taking part of every troop, with its limits."""
    st.subheader("Share taking part, by troop", anchor=False)
    st.caption(
        "The dot is the troop's share, the bar its 95 % limits, the broken line the area. A small troop's bar is long: "
        f"its share says little.{words.drawn(len(standing), charts.MOST_TROOPS, 'the lowest shares')}"
    )
    st.altair_chart(charts.shares(standing, area["share"]), alt=chart_words.shares(standing, area))


def show() -> None:
    """The screen."""
    read = readings.now()
    area, standing = read.row("area"), read.rows("standing")
    low = [row["troop"] for row in read.rows("comparisons") if row["measure"] == "share" and row["is_low"]]
    if area is None or not area["registered"]:
        st.info("Nobody is registered yet. Take in the roster to see who takes part.")
        tables.go("submissions", "Take files in")
        return
    st.markdown(f"#### {state(area, standing, low)}")
    left, right = st.columns(2, gap="large")
    with left:
        shares(standing, area)
    with right:
        path(area)
        averages(area, read.rules()["ship_minimum"])
    told.show(for_others(invitations(read.rows("participants"))), "Too few pages were sent to somebody yet.")
    frame = read.frame("standing").join(read.frame("steps").drop("as_of"), on="troop", how="left")
    st.subheader("Every troop", anchor=False)
    tables.table(
        "standing",
        frame.select(SHOWN).sort("share", nulls_last=True),
        alt="Taking part, by troop",
        key="taking_part",
        opens_troop=True,
    )
    rows = frame.to_dicts()
    explained.columns_made("standing", SHOWN[1:], rows)
    with st.expander("The path of every troop"):
        tables.table("area", frame.select(STEPS), alt="The path of every troop", key="steps", opens_troop=True)
        explained.columns_made("steps", STEPS[1:], rows)


show()
