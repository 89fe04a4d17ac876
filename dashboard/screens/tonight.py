"""What needs me tonight?"""

from datetime import date, timedelta

import polars as pl
import streamlit as st

from dashboard.data import actions, downloads, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import at_a_glance, evening, explained, own_troop, stall_tables, tables, words
from dashboard.parts.evening import Waiting
from pipelines.reports.packing import ALL_KNOWN, in_cases, to_pack, totals

TITLE = "Tonight"
ORDER = 5
ROLES = ("leader",)
ASKS_WEEK = True
MOST = 8
MOST_STALLS = 3


def sentence(parts: list[str]) -> str:
    """What waits, in one sentence, as Markdown."""
    if not parts:
        return "Nothing waits for you tonight."
    return f"{words.listed(parts)[:1].upper()}{words.listed(parts)[1:]}."


def card(title: str, said: str) -> None:
    """One thing: what it is on the left, by when or how much on the right."""
    with st.container(horizontal=True, horizontal_alignment="distribute"):
        st.markdown(words.bold(title), width="content")
        st.markdown(words.plain(said), width="content")


def orders(waiting: list[Waiting], currency: str) -> None:
    """The orders to answer, each with what becomes of it and a text for the caregiver."""
    st.subheader("Answer these orders", anchor=False)
    for one in waiting:
        with st.container(border=True, gap="xxsmall"):
            card(f"{one.row['order_no']}, {one.who}", evening.by(one))
            packages, amount = (
                words.plural(one.row["packages"], "package"),
                words.money(one.row["goods_amount"], currency),
            )
            st.markdown(words.plain(f"{packages}, {amount}. Without an answer: {evening.otherwise(one)}."))
            with st.expander("A text for the caregiver", key=f"text_{one.row['order_no']}"):
                st.code(evening.reminder(one, currency), language=None, wrap_lines=True)
    st.caption("The caregiver answers where the organisation keeps the order. A no is a good answer too.")


def packing(read: Readings, troop: str) -> list[Row]:
    """What is to pack, by all that is known."""
    return to_pack(list(read.rows("packing", ALL_KNOWN, troop)))


def pack(rows: list[Row], read: Readings, troop: str) -> None:
    """What the troop gets ready, and the list to fetch or print."""
    st.subheader("Pack these", anchor=False)
    found = totals(rows, readings.season().codes)
    if found:
        lines = ["| | To fetch | |", "|:--|--:|:--|"]
        lines += [
            f"| {words.plain(f'{item.title} ({item.code})')} | {words.bold(words.number(number))} | "
            f"{words.plain(in_cases(cases, loose))} |"
            for item, number, cases, loose in found
        ]
        st.markdown("\n".join(lines))
    people = {row["participant"] for row in rows}
    with st.expander(f"By participant: {words.number(len(people))}"):
        shown = read.frame("packing", ALL_KNOWN, troop=troop)
        shown = shown.filter(pl.col("order_no").is_not_null() | (pl.col("to_fetch") > 0))
        columns = ["participant", "order_no", "item", "packages", "to_fetch"]
        tables.table("packing", shown.select(columns), alt="Packing list", key="packing")
        explained.columns_made("packing", ("packages", "to_fetch"), shown.to_dicts())
    week = readings.season().week_number(read.days()[-1])
    pdf, csv = (downloads.address(f"packing.{kind}", week, troop) for kind in ("pdf", "csv"))
    st.markdown(f"[Packing list to print]({pdf}) · [as a table]({csv})")


def one_away(rows: list[Row], until: str) -> None:
    """Who is one step away."""
    st.subheader("One step away", anchor=False)
    for row in rows[:MOST]:
        if row["packages"] is None:
            said = f"step {row['missing']} is left"
        else:
            said = f"{words.plural(int(row['missing']), 'package')} to go"
        card(f"{row['participant']}: {row['title']}", said)
        st.page_link(
            "screens/send_week.py", label=f":blue[Mark it for {words.plain(row['participant'])} →]",
            query_params={"who": row["participant"], "part": "awards" if row["packages"] is None else "promised"},
        )  # fmt: skip
    if len(rows) > MOST:
        st.caption(f"And {len(rows) - MOST} more, under Our families.")
    if until:
        st.caption(words.plain(until))


def dates(row: Row | None, currency: str) -> list[tuple[str, str]]:
    """The next collection, and the last day to bank for it."""
    found = []
    if row and row["next_due_on"] and row["next_due"]:
        guess = " (an estimate)" if row["next_due_is_estimate"] else ""
        last = words.last_day_to_bank(row["next_due_on"])
        found.append((f"Bank by {words.day(last)}", f"so that it is there on {words.day(row['next_due_on'])}"))
        found.append((f"Collection on {words.day(row['next_due_on'])}",
                      f"{words.money(row['next_due'], currency)}{guess}; {words.cover_said(row)}"))  # fmt: skip
    return found


def stalls(ours: list[Row]) -> None:
    """The next stalls of the troop, and the way to all of them."""
    st.subheader("Your stalls", anchor=False)
    for row in ours[:MOST_STALLS]:
        card(row["title"], stall_tables.hours(row))
    more = f"And {len(ours) - MOST_STALLS} more, under Our stalls" if len(ours) > MOST_STALLS else "Our stalls"
    tables.go("our_stalls", more)


def week_to_send(read: Readings, troop: str, here: date) -> date | None:
    """The first week that is over and not sent."""
    sent = {row["as_of"] for row in read.weeks("standing", troop) if row["submitted"]}
    over = [day for day in read.days() if day <= here and day not in sent and not actions.follows(troop, day)]
    return over[0] if over else None


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    troop = own_troop.choose(read)
    here, season = evening.today(read), readings.season()
    waiting = evening.waiting(read, troop)
    to_do = packing(read, troop)
    awards = read.rows("awards", troop=troop)
    away = sorted(
        (row for row in awards if row["state"] == "one away"), key=lambda row: (row["award_no"], row["participant"])
    )
    unsent = week_to_send(read, troop, here)
    parts = []
    if waiting:
        parts.append(
            f"{words.bold(words.plural(len(waiting), 'order'))} to answer, first {words.plain(evening.by(waiting[0]))}"
        )
    if fetch := sum(row["to_fetch"] for row in to_do):
        parts.append(f"{words.bold(words.plural(fetch, 'package'))} to get ready")
    if unsent:
        parts.append(f"{words.bold(f'week {season.week_number(unsent)}')} to send")
    st.markdown(f"#### {sentence(parts)}")
    if not parts:
        st.markdown(words.plain(f"Come back on {words.day(next_evening(read, here))}, when the week is to be sent."))
    if waiting:
        orders(waiting, currency)
    if unsent:
        st.subheader("Send the week", anchor=False)
        card(f"Week {season.week_number(unsent)}, to {words.day(unsent)}", "not sent yet")
        tables.go("send_week", "Send this week")
    if to_do:
        pack(to_do, read, troop)
    if away:
        one_away(away, at_a_glance.still_to_earn(read, season.week_endings[-1]))
    if told := dates(read.row("standing", read.days()[-1], troop), currency):
        st.subheader("Your dates", anchor=False)
        for title, said in told:
            card(title, said)
    # A stall of this very day is ahead only while its week runs.
    after = here - timedelta(days=1) if here > read.days()[-1] else here
    if ours := stall_tables.ahead(read.slots(), troop, after):
        stalls(ours)
    st.caption(
        words.plain(f"As of {words.full_day(here)}. Participants are codes; no buyer's name or address is kept here.")
    )


def next_evening(read: Readings, here: date) -> date:
    """The end of the week that runs."""
    season = readings.season()
    return season.week_ending(max(1, season.week_number(here)) + (1 if season.is_week_ending(here) else 0))


show()
