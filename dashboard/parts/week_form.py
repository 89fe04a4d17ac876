"""The fields of a troop's week on the page: one entry at a time, wide enough for a thumb, kept as they are typed.

Comes in: a draft, a troop, a week. Goes out: fields on the page; every change is kept in the draft at once. What a
browser lets through is no check: what is typed is judged like a workbook's cells when it is looked over.
"""

import math
import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import streamlit as st

from dashboard.data import actions
from dashboard.parts import words
from pipelines.definitions.contract import OWN_PAGE
from pipelines.definitions.season import Season
from pipelines.workflow.drafts import PACKAGES, Draft, columns_of

MONEY = ("cash", "card", "amount", "bank_balance")
DAYS = ("date", "balance_on")
LABELS = {
    "received": "Received", "damaged": "Damaged", "on_hand": "On hand, counted", "cash": "Cash and cheques",
    "card": "Card and app", "note": "Note", "date": "Day", "start": "From (such as 14:30)", "place": "Place",
    "participants": "Who worked it (codes)", "amount": "Amount", "slip": "Slip", "item": "Item", "packages": "Packages",
    "direction": "In or out", "other_troop": "Other troop (or outside)", "goal": "Goal in packages",
    "prepared_by": "Filled in by", "bank_balance": "Bank balance, if somebody looked",
    "balance_on": "Balance of the day",
}  # fmt: skip
ADDED = {"stalls": "a stall", "banked": "a deposit", "moves": "a move"}


@dataclass(frozen=True)
class Place:
    """Whose week is being filled in."""

    troop: str
    week_ending: date
    season: Season

    def key(self, *parts: str) -> str:
        """A widget's name of its own."""
        return "week " + " ".join((self.troop, self.week_ending.isoformat(), *parts))


def _keep(place: Place, sheet: str, row: str, column: str, key: str) -> None:
    """Keeps one value in the draft, as it stands in the page's field."""
    draft = actions.draft(place.troop, place.week_ending)
    cells = draft.cover if sheet == "cover" else draft.sheets[sheet].setdefault(row, {})
    text = _text(st.session_state.get(key))
    if text:
        cells[column] = text
    else:
        cells.pop(column, None)
    if not actions.keep_draft(place.troop, place.week_ending, draft):
        st.toast("This is too long to be kept. Shorten the notes.")


def _text(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.2f}" if math.isfinite(value) and round(value, 2) == value else repr(value)
    return "" if value is None else str(value).strip()


def field(place: Place, sheet: str, row: str, column: str, draft: Draft) -> None:
    """One value's field."""
    cells = draft.cover if sheet == "cover" else draft.sheets[sheet].get(row, {})
    kept, key = cells.get(column, ""), place.key(sheet, row, column)
    how: dict[str, Any] = {"key": key, "on_change": _keep, "args": (place, sheet, row, column, key)}
    label = LABELS.get(column) or _item_label(place.season, column)
    label += f", {row}" if sheet == "stock" else ""  # heard alone, each field must say whose it is
    starts = place.week_ending - timedelta(days=6)
    if column in place.season.codes or column in PACKAGES:
        st.number_input(label, value=_whole(kept), step=1, format="%d", placeholder="none", **how)
    elif column in MONEY:
        st.number_input(label, value=_amount(kept), step=0.01, format="%.2f", placeholder="none", **how)
    elif column in DAYS:
        least = starts if column == "date" else starts - timedelta(days=7)
        found = _day(kept)
        shown = found if found and least <= found <= place.week_ending else None
        st.date_input(label, value=shown, min_value=least, max_value=place.week_ending, **how)
    elif column in {"item", "direction"}:
        options = (
            [code for code, one in place.season.codes.items() if one.stocked] if column == "item" else ["in", "out"]
        )
        chosen = options.index(kept) if kept in options else None
        st.selectbox(label, options, index=chosen, placeholder="Choose", **how)
    else:
        st.text_input(label, value=kept, max_chars=300, **how)


def _item_label(season: Season, code: str) -> str:
    item = season.codes.get(code)
    return f"{item.title} ({code})" if item else code.replace("_", " ").capitalize()


def _whole(text: str) -> int | None:
    return int(text) if text.removeprefix("-").isdecimal() and len(text) < 12 else None


def _amount(text: str) -> float | None:
    try:
        found = float(text)
    except ValueError:
        return None
    return found if math.isfinite(found) else None


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def stock(place: Place, draft: Draft) -> None:
    """A count for each stocked item."""
    st.caption("Count what is there at the week's end. Leave it empty where nobody counted; 0 means that none is left.")
    for code in draft.sheets["stock"]:
        with st.container(border=True, gap="small"):
            st.markdown(words.bold(_item_label(place.season, code)))
            field(place, "stock", code, "on_hand", draft)
            with st.container(horizontal=True):
                field(place, "stock", code, "received", draft)
                field(place, "stock", code, "damaged", draft)


def families(place: Place, draft: Draft) -> None:
    """One participant after another: packages taken this week, and what was handed in."""
    st.caption("What was taken and handed in this week, not in all. Brought back is negative.")
    _chosen(place, draft, "families", list(draft.sheets["families"]), "Participant")
    _added(place, draft, "families", "Another participant (code)")


def goals(place: Place, draft: Draft) -> None:
    """One participant's goal; only what is new."""
    st.caption("Only goals that are new or have changed.")
    codes = [code for code in draft.sheets["families"] if code != OWN_PAGE]
    _chosen(place, draft, "goals", codes, "Participant")


def _chosen(place: Place, draft: Draft, sheet: str, rows: list[str], label: str) -> None:
    if not rows:
        st.markdown("Nobody is on the roster yet. Add a participant's code below.")
        return
    at = place.key(sheet, "chosen")
    marks = {row: "✓" if _is_filled(draft, sheet, row) else "" for row in rows}
    row = st.selectbox(label, rows, key=at, format_func=lambda one: f"{one} {marks[one]}".strip())
    if row not in rows:
        return
    with st.container(border=True):
        if row == OWN_PAGE:
            st.caption("Packages set aside for orders on the troop's own page.")
        for column in columns_of(sheet, place.season):
            if column != "participant":
                field(place, sheet, row, column, draft)
    after = rows[(rows.index(row) + 1) % len(rows)]
    st.button(f"Next: {after}", on_click=_go_to, args=(at, after), width="stretch", key=place.key(sheet, "next"))
    done = sum(bool(mark) for mark in marks.values())
    st.caption(f"{done} of {len(rows)} filled in.")


def _is_filled(draft: Draft, sheet: str, row: str) -> bool:
    return any(value for column, value in draft.sheets[sheet].get(row, {}).items() if column != "participant")


def _go_to(key: str, row: str) -> None:
    st.session_state[key] = row


def _added(place: Place, draft: Draft, sheet: str, label: str) -> None:
    key = place.key(sheet, "another")
    with st.expander(label):
        st.text_input(label, key=key, max_chars=40, label_visibility="collapsed")
        st.button("Add", key=f"{key} add", on_click=_add_person, args=(place, sheet, key), width="stretch")


def _add_person(place: Place, sheet: str, key: str) -> None:
    code = str(st.session_state.get(key) or "").strip()[:40]
    if code:
        draft = actions.draft(place.troop, place.week_ending)
        draft.sheets[sheet].setdefault(code, {"participant": code})
        draft.sheets["goals"].setdefault(code, {"participant": code})
        actions.keep_draft(place.troop, place.week_ending, draft)
        st.session_state[place.key(sheet, "chosen")] = code
        st.session_state[key] = ""


def entries(place: Place, draft: Draft, sheet: str) -> None:
    """Stalls, deposits or moves: each an entry that can be added and taken away."""
    for number, row in enumerate(draft.sheets[sheet], 1):
        with st.container(border=True):
            for column in columns_of(sheet, place.season):
                field(place, sheet, row, column, draft)
            key = place.key(sheet, row, "away")
            st.button(f"Take {ADDED[sheet].removeprefix('a ')} {number} away", key=key, on_click=_take_away,
                      args=(place, sheet, row), width="stretch", type="tertiary")  # fmt: skip
    key = place.key(sheet, "add")
    st.button(f"Add {ADDED[sheet]}", key=key, on_click=_add_entry, args=(place, sheet), width="stretch")


def _add_entry(place: Place, sheet: str) -> None:
    draft = actions.draft(place.troop, place.week_ending)
    draft.sheets[sheet][f"new {len(draft.sheets[sheet]) + 1} {id(draft):x}"] = {}
    actions.keep_draft(place.troop, place.week_ending, draft)


def _take_away(place: Place, sheet: str, row: str) -> None:
    draft = actions.draft(place.troop, place.week_ending)
    draft.sheets[sheet].pop(row, None)
    actions.keep_draft(place.troop, place.week_ending, draft)


def cover(place: Place, draft: Draft) -> None:
    """Who filled it in, and the bank balance."""
    for column in ("prepared_by", "bank_balance", "balance_on", "note"):
        field(place, "cover", "", column, draft)


def name_of(given: str) -> str:
    """A file's name as it is kept: its last part, without what could be taken for a path or a command."""
    last = re.split(r"[/\\]", given)[-1]
    return re.sub(r"[^\w .()-]", "_", last).strip(". ")[-100:] or "workbook.xlsx"
