"""Who has which place when, and which places pay?"""

import polars as pl
import streamlit as st

from dashboard.data import agreed_actions, downloads, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import doing, stall_tables, tables, words
from pipelines.definitions.errors import Stop
from pipelines.figures.stall_draw import Draw, spread
from pipelines.follow_up.stalls import reasons

TITLE = "Stalls"
ORDER = 82
GROUP = "Season"
ROLES = ("coordinator",)
RULES = ("slot_twice", "slot_without_permission", "slot_given_back_late", "slot_nothing_reported", "stall_without_slot")
AHEAD, FREE, OVER = "To come", "Free", "Over"
TOLD = "stalls_told"


def state(rows: tuple[Row, ...], ahead: list[Row], wishing: int, odd: int) -> str:
    """One sentence of the state, as Markdown."""
    if not rows:
        return "No slots are known yet. Drop the lists of places and slots on Submissions."
    free = sum(row["state"] == "open" for row in ahead)
    parts = [f"{words.bold(words.plural(len(ahead), 'slot'))} to come, {words.bold(words.number(free))} of them free"]
    parts.append(f"{words.plural(wishing, 'troop')} wish for one" if wishing else "nobody has wished yet")
    if odd:
        parts.append(f"{words.bold(words.plural(odd, 'thing'))} to look into")
    return "; ".join(parts) + "."


def odd_ones(rows: list[Row]) -> None:
    """What is odd about slots, in sentences; the rest of it is on Follow up."""
    for row in rows[:8]:
        st.markdown(f"- Troop {words.bold(row['troop'])}: {words.plain(row['what'])} {words.plain(row['next_step'])}")
    if rows:
        tables.go("follow_up", "Follow up" if len(rows) <= 8 else f"All {len(rows)} on Follow up")


def calendar(read: Readings, rows: tuple[Row, ...], week: int) -> None:
    """The slots, those to come first."""
    st.subheader("The calendar", anchor=False)
    kept = st.radio("Show", [AHEAD, FREE, OVER], key="stalls_kept", horizontal=True, label_visibility="collapsed")
    shown = {
        AHEAD: [row for row in rows if row["date"] > read.as_of],
        FREE: [row for row in rows if row["date"] > read.as_of and row["state"] == "open"],
        OVER: [row for row in reversed(rows) if row["date"] <= read.as_of],
    }[kept]
    if not shown:
        st.info("There is no such slot.")
    else:
        st.dataframe(
            stall_tables.frame(shown), hide_index=True, alt=f"Slots: {kept.lower()}",
            column_config={"Day": st.column_config.DateColumn(format="ddd D MMM", pinned=True)},
        )  # fmt: skip
    st.markdown(f"[{words.bold('For your own calendar (iCalendar)')}]({downloads.address(downloads.STALLS, week)})")


def places(read: Readings, rows: tuple[Row, ...], currency: str) -> None:
    """Which places pay: every stall a tick, the middle a diamond."""
    st.subheader("Which places pay", anchor=False)
    yields = read.rows("place_yields")
    known = [row for row in yields if row["takings_an_hour"] is not None]
    if not known:
        st.info("Nothing can be said yet: a place needs three stalls whose hours are known.")
        return
    titles = {row["place"]: row["title"] for row in rows}
    st.altair_chart(
        stall_tables.spread(read.stall_hours(), yields, titles), alt=stall_tables.spread_said(yields, titles, currency)
    )
    st.caption("Each line is a stall, the diamond their middle. A few stalls say little: look at how they spread.")
    with st.expander("By place and part of the day"):
        money = st.column_config.NumberColumn(format=tables.MONEY.get(currency, "%,.2f"))
        st.dataframe(
            pl.DataFrame(
                [[titles.get(row["place"], row["place"]), row["part_of_day"] or "all day", row["timed"],
                  row["packages_an_hour"], row["takings_an_hour"], row["low"], row["high"]] for row in known],
                schema=["Place", "Part of the day", "Stalls", "Packages an hour", "Takings an hour", "A quarter below",
                        "A quarter above"], orient="row",
            ), hide_index=True, alt="What stalls sold and took in an hour",
            column_config={"Packages an hour": st.column_config.NumberColumn(format="%.1f"), "Takings an hour": money,
                           "A quarter below": money, "A quarter above": money},
        )  # fmt: skip


def the_draw(read: Readings, rows: tuple[Row, ...], wishes: dict[str, list[str]]) -> None:
    """A number, what it would give to whom and why, and keeping it."""
    st.subheader("The draw", anchor=False)
    st.markdown(
        "In rounds every troop gets its highest wish that is still free; whoever has least so far begins the next "
        "round. Nobody gets a second place that everybody wants before all who wished for one have one. The same "
        "number gives the same calendar, so let somebody else name it."
    )
    number = int(st.number_input("The draw's number", min_value=0, max_value=999_999, value=1, step=1, width=230))
    done = read.draw(number)
    if not done.given:
        st.info("There is nothing to give: no free slot is wished for.")
        return
    values = [done.value_of(code) for code in done.order]
    even = spread(values) or 0.0
    st.markdown(
        f"{words.bold(words.plural(len(done.given), 'slot'))} to {words.plural(len(done.order), 'troop')}; each gets "
        f"what {words.number(min(values), 1)} to {words.number(max(values), 1)} usual slots are worth. Unevenness "
        f"{words.number(even, 2)}: 0 would be all alike, 1 everything to one (Gini)."
    )
    chosen = st.selectbox("What became of the wishes of troop", list(done.order), width=260)
    _wishes_told(done, wishes.get(chosen, []), chosen, rows)
    if read.known_on is None and st.button("Keep this draw", type="primary"):
        try:
            kept = agreed_actions.keep_draw(number)
        except Stop as stop:
            st.warning(words.plain(str(stop)))
            return
        st.session_state[TOLD] = f"Kept: {words.plural(len(kept.given), 'slot')} by the draw {number}."
        st.rerun()


def _wishes_told(done: Draw, wished: list[str], troop: str, rows: tuple[Row, ...]) -> None:
    titles = {row["slot"]: stall_tables.said(row) for row in rows}
    told = [
        [rank, titles.get(code, code), why]
        for rank, (code, why) in enumerate(zip(wished, reasons(done, wished, troop), strict=True), 1)
    ]
    st.dataframe(
        pl.DataFrame(told, schema=["Wish", "Slot", "What became of it"], orient="row"), hide_index=True,
        alt=f"Wishes of troop {troop}",
    )  # fmt: skip


def show() -> None:
    """The screen."""
    read = readings.now()
    rules = read.rules()
    rows = read.slots()
    ahead = [row for row in rows if row["date"] > read.as_of]
    wishes: dict[str, list[str]] = {}
    for row in read.facts("wishes"):
        wishes.setdefault(row["troop"], []).append(row["slot"])
    odd = [row for row in read.rows("exceptions") if row["rule"] in RULES and row["state"] == "open"]
    st.markdown(f"#### {state(rows, ahead, len(wishes), len(odd))}")
    doing.said(TOLD)
    odd_ones(odd)
    if rows:
        calendar(read, rows, readings.season().week_number(read.as_of))
        the_draw(read, rows, wishes)
    places(read, rows, rules["currency"])


show()
