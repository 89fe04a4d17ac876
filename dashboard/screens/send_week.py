"""What happened in our troop this week?"""

import tempfile
from datetime import date
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard.data import actions, readings
from dashboard.data.downloads import XLSX
from dashboard.data.readings import Readings
from dashboard.parts import findings_to_mend, own_troop, week_form, words
from dashboard.parts.week_form import Place
from pipelines.definitions.contract import SUBMISSION_TABLES
from pipelines.definitions.errors import Stop
from pipelines.messages.finding_lines import lines
from pipelines.reports.findings_returned import of_preview
from pipelines.workflow.drafts import sheets_of, workbook
from pipelines.workflow.preview import Change, Preview, changes

TITLE = "Send this week"
ORDER = 30
ROLES = ("leader",)
PARTS = {
    "Count": week_form.stock,
    "Families": week_form.families,
    "Stalls": lambda place, draft: week_form.entries(place, draft, "stalls"),
    "Banked": lambda place, draft: week_form.entries(place, draft, "banked"),
    "Moves": lambda place, draft: week_form.entries(place, draft, "moves"),
    "Goals": week_form.goals,
    "Bank and note": week_form.cover,
}
KINDS = ["xlsx", "ods", "xls"]
LOOKED, DONE, CHOSEN, DROPPED = "looked_over", "week_sent", "week_to_send", "week_dropped"
MOST_CHANGES = 30
TABLES = {table.name: table.a_row_is for table in SUBMISSION_TABLES}


def choose_week(read: Readings, troop: str) -> date:
    """The week to send: the first one that is missing, unless another is chosen; one ahead of what is published."""
    season = readings.season()
    days = [*read.days()]
    while (ahead := season.week_ending(len(days) + 1)) <= season.last_dated:
        days.append(ahead)
        if not actions.follows(troop, ahead):
            break
    sent = {row["as_of"] for row in read.weeks("standing", troop) if row["submitted"]}
    sent |= {day for day in days if actions.follows(troop, day)}
    missing = [day for day in days if day not in sent]
    first = missing[0] if missing else days[-1]
    told = {day: "sent" if day in sent else "not sent" for day in days}
    return st.selectbox(
        "Which week", list(reversed(days)), index=len(days) - 1 - days.index(first), key=f"{CHOSEN} {troop}",
        format_func=lambda day: f"Week {season.week_number(day)}, to {words.day(day)}: {told[day]}",
    )  # fmt: skip


def state(read: Readings, troop: str, week_ending: date) -> str:
    """One sentence of the state, as Markdown."""
    row = read.row("standing", week_ending, troop) if week_ending in read.days() else None
    is_sent = bool(row and row["submitted"])
    week = words.plain(f"Week {readings.season().week_number(week_ending)}")
    if actions.is_kept(troop, week_ending):
        return f"{week} is {'sent; your changes to it are' if is_sent else 'begun and'} **not sent yet**."
    if is_sent:
        return f"{week} is sent. Anything wrong? Correct it here and send it again."
    return f"{week} is **not sent yet**. Fill in what happened, look it over, send it."


def findings(found: Preview, name: str) -> None:
    """What is to mend, what may be a slip, what is worth knowing; of a dropped workbook with the copy to fetch."""
    findings_to_mend.in_words(lines(found.findings), found.questions)
    if (found.is_held or found.questions) and st.session_state.get(DROPPED):
        back = of_preview(name, found)
        st.download_button(
            "Copy with a note on each cell", back.copy(), back.copy_name, XLSX, on_click="ignore", width="stretch",
            key="marked_up",
        )  # fmt: skip


def change_list(found: list[Change], currency: str, *, is_again: bool) -> None:
    """What would be another value, before it is sent."""
    if not found:
        st.markdown(
            "Nothing would change: this is what holds already." if is_again else "It reports nothing but zeros."
        )
        return
    lines = ["| What | Was | Will be |", "|:--|--:|--:|"]
    for one in found[:MOST_CHANGES]:
        unit = "money" if one.column in {"cash", "card", "amount", "bank_balance"} else "packages"
        what = words.plain(f"{one.of} {one.column.replace('_', ' ')}".strip())
        was, will = (
            "nothing" if value is None else words.plain(words.money(value, currency) if unit == "money" else str(value))
            for value in (one.before, one.after)
        )
        lines.append(f"| {what} | {was} | {words.bold(will)} |")
    st.markdown("\n".join(lines))
    if len(found) > MOST_CHANGES:
        st.caption(f"and {len(found) - MOST_CHANGES} more")


def look_over(place: Place) -> None:
    """Judges the draft as it stands; what would be sent is kept for the button that sends it."""
    draft = actions.draft(place.troop, place.week_ending)
    sheets = sheets_of(draft, place.season, place.troop, place.week_ending)
    name = f"Troop {place.troop}, week {place.season.week_number(place.week_ending)}.xlsx"
    st.session_state[DROPPED] = False
    _look(sheets, name, lambda: workbook(sheets))


def _look(given: Any, name: str, payload: Any) -> None:
    try:
        st.session_state[LOOKED] = (actions.look_over(given, name), name, payload())
    except Stop as stop:
        st.session_state[LOOKED] = str(stop)


def drop_workbook() -> None:
    """A workbook in place of filling in on the page."""
    with st.form("workbook", border=False, clear_on_submit=True):
        given = st.file_uploader("The troop's workbook (.xlsx, .ods or .xls)", type=KINDS, key="workbook_file")
        pressed = st.form_submit_button("Look it over", width="stretch")
    if pressed and given is not None:
        name = week_form.name_of(given.name)
        st.session_state[DROPPED] = True
        with tempfile.TemporaryDirectory(prefix="musterbook-look-") as folder:
            path = Path(folder) / name
            path.write_bytes(given.getvalue())
            _look(path, name, given.getvalue)
        st.rerun()


def looked_over(read: Readings) -> None:
    """What was looked over: what is to mend, or what would change, and the button that sends."""
    looked = st.session_state.get(LOOKED)
    if looked is None:
        return
    with st.container(border=True):
        if isinstance(looked, str):
            st.warning(words.plain(looked))
        else:
            found, name, payload = looked
            _would(read, found, name, payload)
        st.button("Go on filling in", on_click=lambda: st.session_state.pop(LOOKED, None), width="stretch")


def _would(read: Readings, found: Preview, name: str, payload: bytes) -> None:
    season, currency = readings.season(), read.rules()["currency"]
    week = (
        f"week {season.week_number(found.week_ending)}, to {words.day(found.week_ending)}" if found.week_ending else ""
    )
    if found.is_held:
        st.markdown(f"#### {words.plain(f'Something must be mended before {week or name} can be sent')}")
        findings(found, name)
        return
    if found.troop is None or found.week_ending is None:
        return
    before = readings.sent(found.troop, found.week_ending)
    is_again = any(before.values())
    st.markdown(f"#### {words.plain(f'Troop {found.troop}, {week}')}")
    st.markdown("This takes the place of what was sent before. What changes:" if is_again else "What you report:")
    change_list(changes(before, found.rows), currency, is_again=is_again)
    findings(found, name)
    if found.questions:
        st.caption("If it is right as it is, send it: nothing more is asked of you.")
    if st.button("Send this week", type="primary", width="stretch", key="send"):
        with st.spinner("Sending"):
            _send(found.troop, found.week_ending, payload, name)
        st.rerun()


def _send(troop: str, week_ending: date, payload: bytes, name: str) -> None:
    try:
        outcome = actions.send_week(payload, name, troop, week_ending)
    except Stop as stop:
        st.session_state[LOOKED] = f"Not sent: {stop}"
        return
    if outcome.status in {"taken in", "already taken in"}:
        actions.drop_draft(troop, week_ending)
    st.session_state[DONE] = (outcome.status, name)
    st.session_state.pop(LOOKED, None)


def told_of_sending(*, stays: bool = False) -> None:
    """What became of what was sent: until the next click, or for as long as its figures are being made."""
    done = st.session_state.get(DONE) if stays else st.session_state.pop(DONE, None)
    if done is None:
        return
    status, name = done
    if status == "taken in":
        st.success(words.plain(f"{name} is in and counts from now on. Thank you."))
    elif status == "already taken in":
        st.info(words.plain(f"{name} had come in before, word for word: nothing changes."))
    else:
        st.warning(words.plain(f"{name} has come in and is held: your coordinator sees why."))


@st.fragment(run_every=2)
def figures_follow(troop: str, week_ending: date) -> None:
    """Shows the page anew once the figures with a week that has come in are there."""
    if actions.follows(troop, week_ending):
        st.caption("The figures with it are being made. Here you can correct it once they are there.")
    else:
        st.rerun()


def show() -> None:
    """The screen."""
    read = readings.now()
    troop = own_troop.choose(read)
    week_ending = choose_week(read, troop)
    if actions.follows(troop, week_ending):
        week = words.plain(f"Week {readings.season().week_number(week_ending)}")
        st.markdown(f"#### {week} has come in; its figures follow within a minute.")
        told_of_sending(stays=True)
        figures_follow(troop, week_ending)
        return
    place = Place(troop, week_ending, readings.season())
    st.markdown(f"#### {state(read, troop, week_ending)}")
    told_of_sending()
    draft = actions.draft(troop, week_ending)
    part = st.radio("What to fill in", list(PARTS), horizontal=True, key="week_part")
    PARTS[part if part in PARTS else "Count"](place, draft)
    if actions.is_kept(troop, week_ending):
        st.caption("Everything that you typed is kept, on every device where you sign in, until you send it.")
        st.button("Throw the draft away", on_click=_throw_away, args=(place,), type="tertiary")
    st.button("Look it over", type="primary", width="stretch", on_click=look_over, args=(place,), key="look")
    looked_over(read)
    with st.expander("Or drop the workbook"):
        drop_workbook()
    st.caption(
        "Cash is best counted by two adults who are not related, and banked promptly. Use codes, never names of "
        "children or buyers, in notes too."
    )


def _throw_away(place: Place) -> None:
    actions.drop_draft(place.troop, place.week_ending)
    for key in [key for key in st.session_state if str(key).startswith(place.key())]:
        del st.session_state[key]


show()
