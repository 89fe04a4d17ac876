"""What is wrong, how sure are we, what did we promise?"""

from datetime import timedelta
from decimal import Decimal, InvalidOperation

import polars as pl
import streamlit as st

from dashboard.data import actions, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import calls, tables, words
from pipelines.definitions.errors import Stop
from pipelines.definitions.exception_rules import Rule, rule, rules
from pipelines.follow_up.decisions import DECISIONS, Entry, Key, Kind
from pipelines.follow_up.first_calls import RANKING, by_troop

TITLE = "Follow up"
ORDER = 50
GROUP = "Week"
ROLES = ("coordinator",)
STATES = {"To do": ("open",), "Promised": ("promised",), "Set aside": ("set aside",), "Settled": ("settled",)}
CLEARED = "Cleared"
KINDS: dict[str, Kind] = {
    "Note": "note", "Promised": "promise", "Settled": "settle", "Set aside": "set_aside", "Open again": "reopen"
}  # fmt: skip
CHOSEN, NEXT, BUTTON, SAID = "follow_chosen", "follow_next", "follow_button", "follow_said"


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
    """A press in the list chooses an exception."""
    click = st.session_state.get(BUTTON)
    if click:
        st.session_state[CHOSEN] = click["label"]


def ranking(rows: list[Row]) -> None:
    """The list, ranked; a press on a code opens it beside."""
    frame = pl.DataFrame({
        "code": [row["code"] for row in rows],
        "troop": [row["troop"] for row in rows],
        "severity": [calls.MARKS[row["severity"]] for row in rows],
        "at_stake": [row["at_stake"] for row in rows],
        "since": [since(row) for row in rows],
        "what": [row["what"] for row in rows],
    }, schema_overrides={"at_stake": pl.Decimal(18, 2)})  # fmt: skip
    config = st.column_config
    style = tables.MONEY.get(readings.now().rules()["currency"], "%,.2f")
    more = {
        "code": config.ButtonColumn("Open", help="Opens it below.", pinned=True, width=90, key=BUTTON, on_click=choose),
        "troop": config.TextColumn("Troop", width=70),
        "severity": config.TextColumn("How pressing", width=100),
        "at_stake": config.NumberColumn("At stake", format=style, width=100),
        "since": config.TextColumn("Since", width=90),
        "what": config.TextColumn("What", width="large"),
    }
    tables.table("exceptions", frame, alt="Exceptions, the most pressing troop first", key="follow_list", more=more)


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


def history(read: Readings, key: Key, currency: str) -> None:
    """All that was written down about it, newest first."""
    entries = [
        entry for entry in read.follow_ups(key.troop)
        if (entry["rule"], entry["subject"]) == (key.rule, key.subject)
    ]  # fmt: skip
    if not entries:
        return
    st.markdown(words.bold("What was written down"))
    for entry in reversed(entries):
        parts = [DECISIONS[entry["kind"]]]
        parts += [words.money(entry["amount"], currency)] if entry["amount"] is not None else []
        parts += [f"for {words.day(entry['on_day'])}"] if entry["on_day"] else []
        said = f": {entry['words']}" if entry["words"] else ""
        who = f"{words.instant(entry['written_at'])}, {entry['written_by']}"
        st.markdown(f"- {words.plain(who)}: {words.plain(' '.join(parts) + said)}")


def amount_of(typed: str) -> Decimal | None:
    """The amount promised; None for all of it. Raises Stop for what is no amount."""
    cut = typed.strip().replace(",", "").lstrip("$€£¥")
    if not cut:
        return None
    try:
        amount = Decimal(cut)
    except InvalidOperation:
        raise Stop(f"{typed} is no amount. Type it such as 120.50, or leave it empty for all of it.") from None
    if not amount.is_finite() or amount != round(amount, 2):
        raise Stop(f"{typed} has more than two decimals.")
    return amount


def write(read: Readings, rows: list[Row], row: Row) -> None:
    """Notes, promises and decisions; what is decided makes way for the next exception."""
    key = Key(row["rule"], row["troop"], row["subject"])
    with st.form(f"write_{row['code']}", border=True):
        chosen = st.radio("Write down", list(KINDS), horizontal=True, key=f"kind_{row['code']}")
        said = st.text_input("Words, or the reason", max_chars=2000, key=f"words_{row['code']}")
        left, right = st.columns(2)
        day = left.date_input(
            "Day of the promise, or until when", read.as_of + timedelta(weeks=1),
            min_value=read.as_of + timedelta(days=1), format="YYYY-MM-DD", key=f"day_{row['code']}",
        )  # fmt: skip
        typed = right.text_input("Amount promised (empty: all of it)", key=f"amount_{row['code']}")
        pressed = st.form_submit_button("Write down", type="primary")
    if not pressed:
        return
    kind = KINDS[chosen]
    try:
        on_day = day if kind in ("promise", "set_aside") else None
        amount = amount_of(typed) if kind == "promise" else None
        new = actions.write_down([Entry(key, kind, said, on_day, amount)])
    except Stop as stop:
        st.warning(words.plain(str(stop)))
        return
    st.session_state[SAID] = f"{label(row, read.rules()['currency'])}: " + (
        f"{DECISIONS[kind]}." if new else "that stands there already."
    )
    if kind not in ("note", "reopen"):
        codes = [one["code"] for one in rows]
        place = codes.index(row["code"]) + 1
        st.session_state[NEXT] = codes[place] if place < len(codes) else codes[0]
    st.rerun()


def one(read: Readings, rows: list[Row], row: Row) -> None:
    """One exception: what, what next, whom to reach, evidence, history, what to write down."""
    currency = read.rules()["currency"]
    told: Rule = rule(row["rule"])
    with st.container(border=True):
        with st.container(horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"):
            st.markdown(f"##### {words.plain(label(row, currency))}", width="content")
            tables.way_to_troop(row["troop"], "Open the troop")
        st.markdown(f"{words.bold(calls.MARKS[row['severity']])} {words.plain(row['what'])}")
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
        left, right = st.columns([3, 2], gap="large")
        with left:
            st.markdown(words.bold("Evidence"))
            evidence(row)
            with st.expander("What does this mean?"):
                st.markdown(words.plain(told.meaning_in(readings.season().follow_up)))
        with right:
            write(read, rows, row)
            history(read, Key(row["rule"], row["troop"], row["subject"]), currency)


def decided(row: Row) -> str:
    """What was decided about it."""
    if row["state"] == "open":
        return ""
    until = f" until {words.day(row['until_on'])}" if row["until_on"] else ""
    return f"{row['state']}{until}: {row['decided']}" if row["decided"] else f"{row['state']}{until}"


def cleared(read: Readings, rows: tuple[Row, ...], currency: str) -> None:
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
            history(read, key, currency)


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
    if st.session_state.get(SAID):
        st.success(words.plain(st.session_state.pop(SAID)))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        shown = st.radio("Show", [*STATES, CLEARED], horizontal=True, key="follow_shown")
        troops = ["Every troop", *sorted({row["troop"] for row in rows})]
        linked = st.query_params.get("troop")
        place = troops.index(linked) if linked in troops else 0
        troop = st.selectbox("Troop", troops, index=place, key="follow_troop", width=180)
    with st.expander("How is this ranked?"):
        st.markdown(words.plain(RANKING))
    if shown == CLEARED:
        cleared(read, rows, currency)
        return
    listed = [row for row in ranked(rows) if row["state"] in STATES[shown] and troop in (row["troop"], troops[0])]
    if not listed:
        st.success("Nothing to show here.")
        return
    codes = [row["code"] for row in listed]
    wanted = st.session_state.pop(NEXT, None) or st.session_state.get(CHOSEN)
    st.session_state[CHOSEN] = wanted if wanted in codes else codes[0]
    by_code = {row["code"]: row for row in listed}
    picked = st.selectbox(
        "Which one? Type a troop or a word", codes, key=CHOSEN, format_func=lambda code: label(by_code[code], currency)
    )
    one(read, listed, by_code[picked])
    st.subheader("The whole list, ranked", anchor=False)
    ranking(listed)


show()
