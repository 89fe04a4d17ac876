"""What will still go out of stock, on the page: the sentence, the picture, the bars by item or troop.

Comes in: the readings of this run, a troop or none for the area. Goes out: the parts on the page.
"""

from typing import Any

import streamlit as st

from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import explained, outlook_charts, words
from pipelines.messages.looking_ahead import outlook_sentence

NOTHING = "Nothing can be said yet: no week was sent, and nothing is known of a season before."
OVER = "The season is over: nothing more is expected to go out."
ROUGH_BELOW = 12  # troops: of fewer the area's and the troops' ranges are rough
CAUTION = (
    "It says what will probably go out, not what people want, and not what a troop plans: a stall booked or a leader "
    "who stops is not in it. 8 of 10 is no promise: of the rest more lie above than below. It ranks nobody."
)


def row_of(read: Readings, troop: str = "") -> Row | None:
    """The outlook of a troop, or of the area, on the day chosen; None where nothing can be said."""
    rows = read.rows("outlook", troop=troop or None)
    return next((row for row in rows if row["troop"] == (troop or None) and row["item"] is None), None)


def last_day(read: Readings) -> str:
    """The season's last day in a sentence."""
    day = read.rules()["last_day"]
    return f"{day.day} {day:%B}"


def sentence(read: Readings, troop: str = "") -> None:
    """How many packages will probably still go out, in a sentence."""
    row = row_of(read, troop)
    if row is None:
        st.markdown(NOTHING)
        return
    if row["week"] >= row["weeks"]:
        st.markdown(OVER)
        return
    st.markdown(words.plain(outlook_sentence(row, last_day(read))))
    if row["in_weeks_not_sent"]:
        about = words.number(row["in_weeks_not_sent"])
        st.caption(f"About {about} more may have gone out in weeks that were not sent; they are not in it.")
    troops = len({one["troop"] for one in read.rows("outlook") if one["troop"]})
    if not troop and troops < ROUGH_BELOW:
        st.caption(f"With {words.plural(troops, 'troop')} these ranges are rough.")


def picture(read: Readings, troop: str = "") -> None:
    """Packages so far and the band to the season's last day."""
    row = row_of(read, troop)
    if row is None or row["low"] is None or row["week"] >= row["weeks"]:
        return
    relation: Any = "standing" if troop else "area"
    weeks = [one for one in read.weeks(relation, troop or None) if one["as_of"] <= read.as_of and one["week_no"] >= 1]
    not_sent = [one["week_no"] for one in weeks if troop and not one["submitted"]]
    goals = read.row("steps", troop=troop) if troop else read.row("area")
    goal = int(goals["goal"]) if goals else 0
    last = read.last_season(troop)
    st.altair_chart(
        outlook_charts.season(weeks, row, last, goal, not_sent),
        alt=outlook_charts.season_words(weeks, row, goal, not_sent),
    )
    st.caption("Packages out of the troops' stock. The goals count posted and donated orders too.")


def bars(rows: list[Row], name: str) -> None:
    """A bar a row: range, what is most likely, what is on hand, and a word."""
    shown = [row for row in rows if row["low"] is not None]
    if shown:
        st.altair_chart(outlook_charts.ranges(shown, name), alt=outlook_charts.ranges_words(shown, name))


def of_troop(read: Readings, troop: str) -> None:
    """The outlook of one troop: sentence, picture, and its items."""
    st.subheader("What will still go out", anchor=False)
    sentence(read, troop)
    picture(read, troop)
    rows = [row for row in read.rows("outlook", troop=troop) if row["troop"]]
    bars([row for row in rows if row["item"]], "item")
    st.caption(CAUTION)
    if rows:
        rows.sort(key=lambda row: row["item"] or "")
        explained.columns_made("outlook", ["mean", "low", "high", "level"], rows, "outlook")


def held(read: Readings) -> None:
    """How often the ranges held so far in this book; at the season's end also by the week they were given in."""
    rows = read.rows("outlook_held")
    if not rows:
        st.markdown("No range can be held against what happened yet: that begins with the next week sent.")
        return
    for span in dict.fromkeys(row["span"] for row in rows):
        here = [row for row in rows if row["span"] == span]
        tried, kept = (sum(row[name] for row in here) for name in ("tried", "held"))
        st.markdown(
            f"Ranges for {span} held {words.bold(words.of(kept, tried, kept / tried))} times so far; "
            f"{words.number(sum(row['above'] for row in here))} times more went out, "
            f"{words.number(sum(row['below'] for row in here))} times less."
        )
        lines = []
        for level in dict.fromkeys(row["level"] for row in here):
            of = [row for row in here if row["level"] == level]
            each = ", ".join(f"{row['week']}: {words.percent(row['held'] / row['tried'])}" for row in of)
            sums = [sum(row[name] for row in of) for name in ("held", "tried")]
            lines.append(f"| {level.capitalize()} | {words.of(sums[0], sums[1], sums[0] / sums[1])} | {each} |")
        st.markdown("\n".join(["| | Held | By the week in which they were given |", "|:--|--:|:--|", *lines]))
    st.caption(
        "8 of 10 is what the ranges are made for. Only what was wholly sent is judged. The ranges are those that the "
        "weeks known today give for that day."
    )
