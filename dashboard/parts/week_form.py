"""The form of a troop's week on the page: one entry at a time, wide enough for a thumb, kept as it is typed.

Comes in: the readings of this run, a troop, a week. Goes out: the form (week_form.js draws it), and that somebody asked
to have it looked over. What a browser lets through is no check: every value is text until it is judged, like a
workbook's cells, when it is looked over.

Why this form alone is not made of the framework's widgets. Both were tried in a browser. Text fields whose state is set
from the draft at each run can be emptied, and what is typed while the server is silent for a moment arrives later. But
a page that showed an older value put its own over a newer one of another device, without a word; while nothing got
through nothing told so; a value was not kept before its field was left; what had not arrived was gone with the page.
A field of this form says with each value what it showed before, marks what is not kept yet, keeps that on the device,
and goes on when the connection is back. It asks under an address of its own behind the gate (data/typed_week.py).
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard.data import typed_week
from dashboard.data.readings import Readings
from dashboard.parts import words
from pipelines.definitions.contract import OUTSIDE, OWN_PAGE
from pipelines.definitions.season import Season
from pipelines.messages.finding_lines import CELL, Line, Question, column_number, lines
from pipelines.workflow.drafts import COVER, HANDED, NAMED_BY, PACKAGES, columns_of
from pipelines.workflow.preview import Preview

MONEY = ("cash", "card", "gift", "amount", "bank_balance")
LABELS = {
    "received": "Received", "damaged": "Damaged", "on_hand": "On hand, counted", "cash": "Cash and cheques",
    "card": "Card, into our own bank", "note": "Note", "date": "Day", "start": "From (such as 14:30)",
    "end": "Until (such as 17:00)", "place": "Place", "gift": "Gifts in cash, without packages", "kind": "What it is",
    "participants": "Who worked it (codes)", "amount": "Amount", "slip": "Slip", "item": "Item", "packages": "Packages",
    "direction": "In or out", "other_troop": f"Other troop (or {OUTSIDE})", "goal": "Goal in packages",
    "made_elsewhere": "Sold elsewhere, by own word", "award": "Award", "steps": "Steps done (numbers)",
    "handed_on": "Handed over on", "prepared_by": "Filled in by",
    "bank_balance": "Bank balance, if somebody looked",
    "balance_on": "Balance of the day",
}  # fmt: skip
PARTS: dict[str, tuple[str, str]] = {  # of each sheet its name on the page, and what to know before filling it in
    "stock": ("Count", "Count at the week's end: 27, or cases and loose ones, 2c+3. Empty: nobody counted."),
    "families": ("Families", "What was taken and handed in this week, not in all. Brought back is negative."),
    "stalls": ("Stalls", "One entry for each stall: what was sold there, and its takings without the float."),
    "banked": ("Banked", "One entry for each row of the bank: deposits, fees, cheques that came back, change."),
    "moves": ("Moves", "Packages between troops: in is to you, out is from you."),
    "goals": ("Goals", "Only goals that are new or have changed; troop is the goal of all together."),
    "promised": ("Promised", "Packages promised on paper orders, in all so far, not this week's alone."),
    "awards": ("Awards", "Tick what is done, wherever it was done, and write down what was handed over."),
    "cover": ("Bank and note", ""),
}  # fmt: skip
ADDED = {"stalls": "a stall", "banked": "a row of the bank", "moves": "a move"}
KINDS = (  # of a row of the bank, as a leader says them; empty is a deposit
    ("deposit", "money paid in"), ("fee", "a fee of the bank (below 0)"),
    ("returned_cheque", "a cheque that came back (below 0)"), ("float", "change: taken out is below 0, put back above"),
)  # fmt: skip
HERE = Path(__file__).parent
KEY, HEARD = "week_form", "week_form_heard"


@dataclass(frozen=True)
class Place:
    """Whose week is being filled in."""

    troop: str
    week_ending: date
    season: Season


@dataclass(frozen=True)
class Looked:
    """A week that was looked over, and would be sent. `version`: of the draft that it was made of; None for a file."""

    found: Preview
    name: str
    payload: bytes
    version: int | None = None


def show(read: Readings, place: Place, *, looked: int | None, on_look: Callable[[], None]) -> None:
    """The form. `looked`: the version of the draft that was looked over; then the page learns of a newer one."""
    component = st.components.v2.component(
        "week_form",
        html='<div class="week"></div>\n<noscript>This form needs scripts.</noscript>',
        css=HERE.joinpath("week_form.css").read_text(encoding="utf-8"),
        js=HERE.joinpath("week_form.js").read_text(encoding="utf-8"),
    )
    component(
        key=KEY,
        data={
            "address": typed_week.address(place.troop, place.week_ending),
            "kept": typed_week.state(read, place.troop, place.week_ending),
            "looked": looked,
            "heard": st.session_state.get(HEARD),
            "form": described(read, place),
            "who": st.query_params.get("who", ""),
            "part": _part_asked(place),
        },
        on_look_change=lambda: _heard(on_look),
        on_moved_change=lambda: None,
    )


def _part_asked(place: Place) -> str:
    """The part that the address names, if the form has it."""
    asked = st.query_params.get("part", "")
    return asked if asked in PARTS and (asked != "awards" or place.season.awards) else ""


def _heard(on_look: Callable[[], None]) -> None:
    """The page asks until it is told that it was heard: what it asks is done once, or again where it was broken off."""
    asked = st.session_state[KEY].look
    if asked and asked != st.session_state.get(HEARD):
        on_look()
        st.session_state[HEARD] = asked


def described(read: Readings, place: Place) -> dict[str, Any]:
    """What the form asks for, and what is known beside it; money in cents."""
    known = _known(read, place)
    return {
        "parts": [_part(place, sheet) for sheet in PARTS if sheet != "awards" or place.season.awards],
        "sign": words.SIGNS.get(read.rules()["currency"], read.rules()["currency"] + " "),
        "perCase": {item.code: item.packages_per_case for item in place.season.items},
        "prices": {item.code: _cents(item.price) for item in place.season.items},
        "ownPage": OWN_PAGE,
        **known,
    }


def _part(place: Place, sheet: str) -> dict[str, Any]:
    name, told = PARTS[sheet]
    names = list(COVER) if sheet == "cover" else columns_of(sheet, place.season)
    columns = [_column(place, sheet, name) for name in names if name != NAMED_BY.get(sheet)]
    part: dict[str, Any] = {
        "sheet": sheet,
        "name": name,
        "told": told,
        "columns": columns,
        "adds": ADDED.get(sheet, ""),
    }
    if sheet == "stock":
        part["titles"] = {item.code: item.title for item in place.season.items if item.stocked}
    return part


def _column(place: Place, sheet: str, name: str) -> dict[str, Any]:
    """One field: its name, its label, and how it is typed."""
    item, ends = place.season.codes.get(name), place.week_ending
    starts = ends - timedelta(days=6)
    label = f"{item.title} ({name})" if item else LABELS.get(name, name)
    column: dict[str, Any] = {"name": name, "label": label, "kind": "text"}
    if sheet == "awards":
        column |= _award(place, name)
    elif item or name in PACKAGES:
        column["kind"] = "signed" if sheet == "families" else "whole"
    elif name in MONEY:
        column["kind"] = "money"
    elif name in {"date", "balance_on"}:
        least = starts if name == "date" else starts - timedelta(days=7)
        column |= {"kind": "day", "least": least.isoformat(), "most": ends.isoformat()}
    elif name == "item":
        stocked = [[one.code, f"{one.title} ({one.code})"] for one in place.season.items if one.stocked]
        column |= {"kind": "choice", "options": stocked}
    elif name == "kind":
        column |= {"kind": "choice", "options": [list(one) for one in KINDS]}
    elif name == "participant":
        column |= {"label": "Whose cheque came back (empty: a stall's)"}
    elif name == "direction":
        column |= {"kind": "choice", "options": [["in", "in, to us"], ["out", "out, from us"]]}
    return column


def _award(place: Place, name: str) -> dict[str, Any]:
    """The steps of an award to tick, or the day it was handed over."""
    award = next(one for one in place.season.awards if one.code == name.removesuffix(HANDED))
    if name.endswith(HANDED):
        return {
            "kind": "day",
            "label": f"{award.title}: handed over on",
            "least": "",
            "most": place.week_ending.isoformat(),
        }
    return {"kind": "ticks", "label": f"{award.title}: steps done so far", "most": award.steps}


def _known(read: Readings, place: Place) -> dict[str, dict[str, int]]:
    """Packages that should be there and what families owe at the last published end of a week before, and what came."""
    earlier = [day for day in read.days() if day < place.week_ending]
    if not earlier:
        return {"expected": {}, "supplied": {}, "owed": {}}
    before = earlier[-1]
    supplied: dict[str, int] = {}
    for row in read.facts("supply", place.troop):
        if before < row["date"] <= place.week_ending:
            change = -row["packages"] if row["kind"] == "returned" else row["packages"]
            supplied[row["item"]] = supplied.get(row["item"], 0) + change
    items = read.rows("items", before, place.troop)
    families = read.rows("families", before, place.troop)
    return {
        "expected": {row["item"]: row["expected_on_hand"] for row in items},
        "supplied": supplied,
        "owed": {row["participant"]: _cents(row["owes"]) for row in families},
    }


def _cents(amount: Decimal) -> int:
    return int(amount * 100)


def found_in_fields(found: Preview, season: Season) -> tuple[list[Line], list[Question]]:
    """What was found in a draft that was looked over, with its fields as the form names them, in place of cells."""
    sheets = {sheet.name: sheet.rows or [] for sheet in found.sheets}

    def named(sheet: str, cell: str) -> str:
        at, rows = CELL.fullmatch(cell), sheets.get(sheet, [])
        if not at or int(at[2]) > len(rows):
            return sheet
        row, column = rows[int(at[2]) - 1], column_number(at[1])
        name, of = sheet.lower(), str(row[0])
        if name == "cover":
            return f"{PARTS['cover'][0]}, {LABELS.get(of.replace(' ', '_'), of)}"
        header = str(rows[0][column]) if column < len(rows[0]) else ""
        item = season.codes.get(header)
        which = " ".join(map(str, row[:2])) if name == "awards" else of if name in NAMED_BY else str(int(at[2]) - 1)
        return ", ".join((PARTS[name][0], which, item.title if item else LABELS.get(header, header)))

    told = [
        replace(line, where="; ".join(dict.fromkeys(named(line.sheet, cell) for cell in line.cells)) or line.where)
        for line in lines(found.findings)
    ]
    asked = [replace(one, places=tuple((named(*place), "") for place in one.places)) for one in found.questions]
    return told, asked


def name_of(given: str) -> str:
    """A file's name as it is kept: its last part, without what could be taken for a path or a command."""
    last = re.split(r"[/\\]", given)[-1]
    return re.sub(r"[^\w .()-]", "_", last).strip(". ")[-100:] or "workbook.xlsx"
