"""How do we stand, and whom do we call first?"""

import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import (
    calls,
    chart_words,
    charts,
    dollar_places,
    explained,
    outlook,
    tables,
    to_settle,
    what_changed,
    words,
)
from pipelines.definitions.measures import measure
from pipelines.follow_up.first_calls import first_calls

TITLE = "This week"
ORDER = 10
GROUP = "Week"
ROLES = ("coordinator",)
COMPARED = (
    "packages_sold", "on_hand", "owed", "past_due", "families_owe", "not_banked", "remitted", "missing", "taking_part",
)  # fmt: skip


NO_PACKAGES = (
    "No packages have been supplied yet. Take in the list of what was supplied, and every dollar has its place here."
)


def state(area: Row, exceptions: tuple[Row, ...], currency: str) -> str:
    """One sentence of the state, as Markdown."""
    in_all = f"{words.bold(words.of(area['troops_submitted'], area['troops']))} submissions in"
    sold = f"{words.bold(words.number(area['packages_sold']))} packages sold"
    goals = f", {words.percent(area['goal_share'])} of the goals" if area["goal"] else ""
    if area["past_due"] > 0:
        past = words.bold(words.money(area["past_due"], currency))
        due = f"{past} past due in {words.plural(area['troops_past_due'], 'troop')}"
    else:
        due = "nothing past due"
    short = area["troops_not_covered"]
    lacking = words.plain(words.money(area["lacking"], currency))
    cover = (
        f"; the next collection may not be covered in {words.plural(short, 'troop')}, {lacking} lacking"
        if short
        else ""
    )
    waiting = [row for row in exceptions if row["state"] == "open"]
    new = sum(row["is_new"] for row in waiting)
    follow = f"; {words.bold(words.plural(len(waiting), 'thing'))} to follow up, {new} new" if waiting else ""
    return f"{in_all}; {sold}{goals}; {due}{cover}{follow}."


def call_first(read: Readings, currency: str) -> None:
    """Whom to call first."""
    st.subheader("Call first", anchor=False)
    found = first_calls(read.rows("exceptions"), read.facts("troops"), read.rules()["title"], read.as_of)
    if not found:
        st.success("Nobody needs a call: nothing waits to be asked.")
        tables.go("follow_up", "See what there is to watch")
        return
    calls.cards(found, currency)


def ahead(read: Readings, standing: tuple[Row, ...], currency: str) -> None:
    """The dates ahead: the next collections and the last day to bank before each."""
    st.subheader("Dates ahead", anchor=False)
    days = sorted({row["next_due_on"] for row in standing if row["next_due_on"]})
    if not days:
        st.markdown("No collection lies ahead.")
    for on in days[:3]:
        due = [row for row in standing if row["next_due_on"] == on]
        total = sum(row["next_due"] for row in due)
        guess = sum(row["next_due_is_estimate"] for row in due)
        how = (
            "announced"
            if not guess
            else "estimated"
            if guess == len(due)
            else f"estimated for {guess} of {len(due)} troops"
        )
        st.markdown(
            f"{words.bold(words.day(on))}: {words.plain(words.money(total, currency))} from "
            f"{words.plural(len(due), 'troop')}, {how}. "
            f"Last day to bank: {words.bold(words.day(words.last_day_to_bank(on)))}."
        )
    held = {row["troop"] for row in read.rows("submissions") if row["files_held"]}
    unsent = [row["troop"] for row in standing if not row["submitted"]]
    st.subheader("Not sent yet", anchor=False)
    if not unsent:
        st.markdown("Every troop has sent this week.")
        return
    for some, said in (
        ([troop for troop in unsent if troop not in held], "not sent this week:"),
        ([troop for troop in unsent if troop in held], "sent what waits to be mended:"),
    ):
        if some:
            st.markdown(f"{words.plural(len(some), 'troop has', 'troops have')} {said}")
            tables.ways_to_troops(some[:12])
    tables.go("submissions", "See what came in and what is held")


def pace(read: Readings, area: Row) -> None:
    """Pace beside last season by the same week number."""
    st.subheader("Pace beside last season", anchor=False)
    rows = read.pace()
    if area["pace"] is not None:
        change = area["matched_now"] - area["matched_then"]
        more = "more" if change >= 0 else "fewer"
        st.markdown(
            f"{words.bold(words.number(abs(change)) + ' packages ' + more)} than at the same week last season, in the "
            f"{words.plural(area['matched_troops'], 'troop')} that sold in both ({words.percent(area['pace'] - 1)})."
        )
    else:
        st.markdown("Last season is not known. Take in its weeks (the last_season table) to see the pace beside it.")
    st.altair_chart(charts.pace(rows, read.as_of), alt=chart_words.pace(rows, read.as_of))
    explained.columns_made("area", ["packages_sold", "last_season", "pace"], [area], "pace")
    outlook.sentence(read)
    tables.go("orders", "See what to order and who could give whom what")


def changes(read: Readings, area: Row, currency: str) -> None:
    """What changed since the week before."""
    st.subheader("What changed since last week", anchor=False)
    before = read.row("area", read.before) if read.before else None
    if before is None:
        st.markdown("This is the season's first week: there is nothing to compare it with.")
        return
    lines = []
    for name in COMPARED:
        told = measure("area", name)
        change = area[name] - before[name]
        if told.unit == "money":
            now, by = (words.money(value, currency) for value in (area[name], abs(change)))
        else:
            now, by = (words.number(value) for value in (area[name], abs(change)))
        moved = f"{'up' if change > 0 else 'down'} {by}" if change else "the same"
        lines.append(f"| {words.plain(told.label)} | {words.plain(now)} | {words.plain(moved)} |")
    st.markdown("\n".join(["| | This week | Since last week |", "|:--|--:|--:|", *lines]))
    news = _newly(read)
    if news:
        st.markdown(news)
    explained.columns_made("area", COMPARED, [area], "compared")


def _newly(read: Readings) -> str:
    """Troops that fell past due, or paid up, since the week before."""
    was = {row["troop"] for row in read.rows("standing", read.before) if row["past_due"] > 0}
    now = {row["troop"] for row in read.rows("standing") if row["past_due"] > 0}
    parts = []
    if now - was:
        parts.append(f"Newly past due: {words.listed(sorted(now - was))}.")
    if was - now:
        parts.append(f"No longer past due: {words.listed(sorted(was - now))}.")
    return words.plain(" ".join(parts))


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    area, standing = read.row("area"), read.rows("standing")
    if area is None:
        st.markdown(
            "#### A new book: set the season up first. Take in the list of troops, the roster and the supply next."
        )
        tables.go("set_up", "Set the season up")
        tables.go("submissions", "Take files in")
        return
    st.markdown(f"#### {state(area, read.rows('exceptions'), currency)}")
    left, right = st.columns([3, 2], gap="large")
    with left:
        call_first(read, currency)
    with right:
        ahead(read, standing, currency)
        explained.figures(
            [("area", "packages_sold"), ("area", "past_due"), ("area", "owed"), ("area", "goal_share")], area
        )
        changes(read, area, currency)
        folded = st.expander("What changed since a time, and why", key="fold_changed", on_change="rerun")
        if folded.open:
            with folded:
                what_changed.show(read)
    st.subheader("To settle at the week's end", anchor=False)
    to_settle.show(to_settle.of_troops(read), currency, key="settle", opens_troop=True)
    left, right = st.columns(2, gap="large")
    with left:
        dollar_places.show("area", area, read.weeks("area"), currency, NO_PACKAGES)
    with right:
        pace(read, area)
    with st.expander("Every troop's standing"):
        frame = read.frame("standing").select(
            "troop", "packages_sold", "sell_through", "owed", "past_due", "families_owe", "share"
        )
        tables.table("standing", frame, alt="Every troop's standing", key="standing", opens_troop=True)
        explained.columns_made("standing", frame.columns[1:], standing)


show()
