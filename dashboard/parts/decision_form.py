"""What is written down about an exception: a note, a promise with its day, settled, set aside.

Comes in: the exception. Goes out: a form on the page; what was written down is kept, and said in full on the next run.
"""

from datetime import date, timedelta
from decimal import Decimal, InvalidOperation

import streamlit as st

from dashboard.data import actions, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import words
from pipelines.definitions.errors import Stop
from pipelines.follow_up.decisions import DECISIONS, Entry, Key, Kind

KINDS: dict[str, Kind] = {
    "Note": "note", "Promised": "promise", "Settled": "settle", "Set aside": "set_aside", "Open again": "reopen"
}  # fmt: skip
SAID, KEPT = "follow_said", "follow_kept"  # what was written down; of which exception, that stays open
DAYS_AHEAD = 120  # days that a promise may be for


def days_ahead(read: Readings) -> list[date]:
    """The days that a promise may be for."""
    return [read.as_of + timedelta(days=ahead) for ahead in range(1, DAYS_AHEAD + 1)]


def next_working_day(days: list[date]) -> int:
    """The first of some days from Monday to Friday; bank holidays are not known here."""
    return next(place for place, day in enumerate(days) if day.weekday() < 5)


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


def show(read: Readings, row: Row, label: str) -> None:
    """Notes, promises and decisions; what is decided stays open until another is chosen."""
    key = Key(row["rule"], row["troop"], row["subject"])
    with st.form(f"write_{row['code']}", border=True):
        chosen = st.radio("Write down", list(KINDS), horizontal=True, key=f"kind_{row['code']}")
        said = st.text_input("Words, or the reason", max_chars=2000, key=f"words_{row['code']}")
        left, right = st.columns(2)
        days = days_ahead(read)
        day = left.selectbox(
            "Day of the promise, or until when", days, index=next_working_day(days), format_func=words.day,
            key=f"day_{row['code']}",
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
    told = told_of(kind, amount if amount is not None else row["at_stake"] if kind == "promise" else None, on_day)
    st.session_state[SAID] = f"{label}: " + (f"{told}." if new else "that stands there already.")
    st.session_state[KEPT] = row["code"]
    st.rerun()


def told_of(kind: str, amount: Decimal | None, on_day: date | None) -> str:
    """What is written down, in full: `promised $120.00 for Fri 26 Mar`."""
    parts = [DECISIONS[kind]]
    parts += [words.money(amount, readings.now().rules()["currency"])] if amount is not None else []
    parts += [f"{'until' if kind == 'set_aside' else 'for'} {words.day(on_day)}"] if on_day else []
    return " ".join(parts)
