"""What is wrong, how sure are we, what did we promise?"""

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import calls, decision_form, explanations, tables, words
from pipelines.definitions.exception_rules import Rule, rule, rules
from pipelines.follow_up.decisions import Key
from pipelines.follow_up.first_calls import RANKING, by_troop

TITLE = "Follow up"
ORDER = 50
GROUP = "Week"
ROLES = ("coordinator",)
STATES = {"To do": ("open",), "Promised": ("promised",), "Set aside": ("set aside",), "Settled": ("settled",)}
CLEARED = "Cleared"
CHOSEN, LIST, CODES = "follow_chosen", "follow_list", "follow_codes"
EVERY_TROOP, EVERY_KIND = "Every troop", "Every kind"


def ranked(rows: tuple[Row, ...]) -> list[Row]:
    """Exceptions in order: the troop that weighs most first, its own together."""
    return [dict(row) for found in by_troop(rows).values() for row in found]


def state(rows: tuple[Row, ...]) -> str:
    """One sentence of the state, as Markdown."""
    waiting = [row for row in rows if row["state"] == "open"]
    if not waiting:
        return "Nothing waits to be followed up."
    new = sum(row["is_new"] for row in waiting)
    urgent = sum(row["severity"] == "act now" for row in waiting)
    troops = words.plural(len({row["troop"] for row in waiting}), "troop")
    parts = [f"{words.bold(words.plural(len(waiting), 'thing'))} to follow up in {troops}, {urgent} of them to act now"]
    parts += [f"{new} new"] if new else []
    promised = sum(row["state"] == "promised" for row in rows)
    parts += [words.plural(promised, "promise") + " for a day to come"] if promised else []
    return "; ".join(parts) + "."


def label(row: Row, currency: str) -> str:
    """An exception in one line."""
    amount = f", {words.money(row['at_stake'], currency)}" if row["at_stake"] is not None else ""
    subject = f" {row['subject']}" if row["subject"] else ""
    return f"{row['troop']}: {rule(row['rule']).label}{subject}{amount}"


def since(row: Row) -> str:
    """How long it has been open."""
    if row["is_new"]:
        return "came back" if row["has_returned"] else "new"
    return words.plural(row["weeks_open"], "week")


def choose() -> None:
    """A press on a row of the list chooses it."""
    pressed = st.session_state[LIST]["selection"]["cells"]
    if pressed:
        st.session_state[CHOSEN] = st.session_state[CODES][pressed[0][0]]


def go_on() -> None:
    """The one after the one that is open."""
    codes = st.session_state[CODES]
    place = codes.index(st.session_state[CHOSEN]) + 1 if st.session_state[CHOSEN] in codes else 0
    st.session_state[CHOSEN] = codes[place % len(codes)]
    st.session_state.pop(decision_form.KEPT, None)


def ranking(rows: list[Row]) -> None:
    """The list, ranked; a press on a row opens it beside."""
    st.session_state[CODES] = [row["code"] for row in rows]
    frame = pl.DataFrame({
        "troop": [row["troop"] for row in rows],
        "about": [f"{rule(row['rule']).label} {row['subject']}".strip() for row in rows],
        "at_stake": [row["at_stake"] for row in rows],
        "severity": [calls.MARKS[row["severity"]] for row in rows],
        "since": [since(row) for row in rows],
        "what": [row["what"] for row in rows],
    }, schema_overrides={"at_stake": pl.Decimal(18, 2)})  # fmt: skip
    config = st.column_config
    style = tables.MONEY.get(readings.now().rules()["currency"], "%,.2f")
    st.dataframe(
        frame, hide_index=True, key=LIST, on_select=choose, selection_mode="single-cell", placeholder="",
        alt="Exceptions, the most pressing troop first", height=tables.ROW_PIXELS * min(len(rows) + 1, 20),
        column_config={
            "troop": config.TextColumn("Troop", pinned=True, width=60),
            "about": config.TextColumn("About", width=190),
            "at_stake": config.NumberColumn("At stake", format=style, width=90),
            "severity": config.TextColumn("How pressing", width=90),
            "since": config.TextColumn("Since", width=80),
            "what": config.TextColumn("What", width="large"),
        },
    )  # fmt: skip
    st.caption("Press a row to open it beside; its whole text stands there.")


def evidence(row: Row) -> None:
    """What it rests on, down to the cell."""
    pieces = row["evidence"]
    frame = pl.DataFrame({
        "Says": [piece["says"] for piece in pieces],
        "Amount": [piece["amount"] for piece in pieces],
        "Packages": [piece["packages"] for piece in pieces],
        "Where": [" ".join(part for part in (piece["sheet"], piece["cell"]) if part) for piece in pieces],
        "File": [piece["file"] or "worked out" for piece in pieces],
    }, schema_overrides={"Amount": pl.Decimal(18, 2), "Packages": pl.Int64})  # fmt: skip
    shown = frame.select(
        name for name in frame.columns if name not in ("Amount", "Packages") or frame[name].null_count() < frame.height
    )
    style = tables.MONEY.get(readings.now().rules()["currency"], "%,.2f")
    st.dataframe(
        shown, hide_index=True, alt="Evidence", key=f"evidence_{row['code']}", placeholder="",
        column_config={"Amount": st.column_config.NumberColumn(format=style)},
        height="content" if shown.height <= 12 else 440,
    )  # fmt: skip


def history(read: Readings, key: Key) -> None:
    """All that was written down about it, newest first."""
    entries = [
        entry for entry in read.follow_ups(key.troop)
        if (entry["rule"], entry["subject"]) == (key.rule, key.subject)
    ]  # fmt: skip
    if not entries:
        return
    st.markdown(words.bold("What was written down"))
    for entry in reversed(entries):
        told = decision_form.told_of(entry["kind"], entry["amount"], entry["on_day"])
        said = f": {entry['words']}" if entry["words"] else ""
        who = f"{words.instant(entry['written_at'])}, {entry['written_by']}"
        st.markdown(f"- {words.plain(who)}: {words.plain(told + said)}")


def one(read: Readings, row: Row) -> None:
    """One exception: what, what next, whom to reach, evidence, history, what to write down."""
    currency = read.rules()["currency"]
    told: Rule = rule(row["rule"])
    with st.container(border=True):
        with st.container(horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"):
            st.markdown(f"##### {words.plain(label(row, currency))}", width="content")
            tables.way_to_troop(row["troop"], "Open the troop")
        st.markdown(f"{words.bold(calls.MARKS[row['severity']])} {words.plain(row['what'])}")
        if why := explanations.of_exception(read, row["rule"], row["troop"], row["subject"]):
            st.markdown(f"{words.bold('Likeliest explanation:')} {words.plain(why)}")
        st.markdown(words.plain(row["next_step"]))
        people = read.facts("troops", row["troop"])
        reach = calls.reach(people[0] if people else None)
        st.markdown(
            words.aside(
                " · ".join(
                    part
                    for part in (reach, f"first seen {words.day(row['first_seen'])}, {since(row)}", decided(row))
                    if part
                )
            )
        )
        decision_form.show(read, row, label(row, currency))
        history(read, Key(row["rule"], row["troop"], row["subject"]))
        st.markdown(words.bold("Evidence"))
        evidence(row)
        with st.expander("What does this mean?"):
            st.markdown(words.plain(told.meaning_in(readings.season().follow_up)))


def decided(row: Row) -> str:
    """What was decided about it."""
    if row["state"] == "open":
        return ""
    until = f" until {words.day(row['until_on'])}" if row["until_on"] else ""
    return f"{row['state']}{until}: {row['decided']}" if row["decided"] else f"{row['state']}{until}"


def cleared(read: Readings, rows: tuple[Row, ...]) -> None:
    """What cleared by itself, newest first."""
    there = {(row["rule"], row["troop"], row["subject"]) for row in rows}
    entries = [
        entry for entry in reversed(read.follow_ups())
        if entry["kind"] == "cleared" and (entry["rule"], entry["troop"], entry["subject"]) not in there
    ]  # fmt: skip
    if not entries:
        st.info("Nothing has cleared yet. What is found no more says so here by itself.")
        return
    for entry in entries[:40]:
        key = Key(entry["rule"], entry["troop"], entry["subject"])
        title = f"{key.troop}: {rule(key.rule).label} {key.subject}".strip() if key.rule in rules() else str(key)
        with st.expander(words.plain(f"{title}, cleared {words.instant(entry['written_at'])}"), key=f"cleared_{key}"):
            history(read, key)


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    rows = read.rows("exceptions")
    if not read.rows("standing"):
        st.info("No troop is known yet. Take in the troops list or the roster, then the first submissions.")
        tables.go("submissions", "Take files in")
        return
    st.markdown(f"#### {state(rows)}")
    if st.session_state.get(decision_form.SAID):
        st.success(words.plain(st.session_state.pop(decision_form.SAID)))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        shown = st.radio("Show", [*STATES, CLEARED], horizontal=True, key="follow_shown")
        troops = [EVERY_TROOP, *sorted({row["troop"] for row in rows})]
        linked = st.query_params.get("troop")
        place = troops.index(linked) if linked in troops else 0
        troop = st.selectbox("Troop", troops, index=place, key="follow_troop", width=150)
        kinds = [EVERY_KIND, *sorted({rule(row["rule"]).label for row in rows})]
        kind = st.selectbox("Kind", kinds, key="follow_kind", width=260)
    if shown == CLEARED:
        cleared(read, rows)
        return
    listed = [
        row
        for row in ranked(rows)
        if (row["state"] in STATES[shown] or row["code"] == st.session_state.get(decision_form.KEPT))
        and troop in (row["troop"], EVERY_TROOP)
        and kind in (rule(row["rule"]).label, EVERY_KIND)
    ]
    if not listed:
        st.success("Nothing to show here.")
        return
    listed = tables.page(listed, "follow_page")
    codes = [row["code"] for row in listed]
    if st.session_state.get(CHOSEN) not in codes:
        st.session_state[CHOSEN] = codes[0]
    left, right = st.columns([3, 2], gap="medium")
    with right:
        st.subheader("The whole list, ranked", anchor=False)
        ranking(listed)
        with st.expander("How is this ranked?"):
            st.markdown(words.plain(RANKING))
    by_code = {row["code"]: row for row in listed}
    with left:
        with st.container(horizontal=True, vertical_alignment="bottom"):
            picked = st.selectbox(
                "Which one? Type a troop or a word", codes, key=CHOSEN,
                format_func=lambda code: label(by_code[code], currency),
            )  # fmt: skip
            st.button("Next", on_click=go_on)
        one(read, by_code[picked])


show()
