"""What happened in our troop this week?"""

import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import streamlit as st

from dashboard.data import actions, readings
from dashboard.data.downloads import XLSX
from dashboard.data.readings import Readings
from dashboard.parts import findings_to_mend, own_troop, week_form, words
from dashboard.parts.week_form import LABELS, MONEY, PARTS, Looked, Place
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import MOST_LEADER_MEGABYTES
from pipelines.messages.finding_lines import lines
from pipelines.reports.findings_returned import of_preview
from pipelines.workflow.drafts import sheets_of, workbook
from pipelines.workflow.preview import Change, changes, totals

TITLE = "Send this week"
ORDER = 30
ROLES = ("leader",)
ASKS_WEEK = True
KINDS = ["xlsx", "ods", "xls"]
LOOKED, DONE, CHOSEN, TURNED_TO = "looked_over", "week_sent", "week_to_send", "week_turned_to"
IN_ADDRESS = "send"


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
    numbers = {str(season.week_number(day)): day for day in days}
    first = numbers.get(st.query_params.get(IN_ADDRESS, ""), missing[0] if missing else days[-1])
    # The labels never change: whether a week is sent would make another choice of the one that is chosen.
    chosen = st.selectbox(
        "Which week", list(reversed(days)), index=len(days) - 1 - days.index(first), key=f"{CHOSEN} {troop}",
        format_func=lambda day: f"Week {season.week_number(day)}, to {words.day(day)}",
        on_change=lambda: st.session_state.update({TURNED_TO: True}),
    )  # fmt: skip
    if chosen not in days:
        return first
    if st.session_state.pop(TURNED_TO, False):
        st.query_params[IN_ADDRESS] = str(season.week_number(chosen))
    if earlier := [str(season.week_number(day)) for day in missing if day != chosen]:
        st.caption(f"Not sent yet, too: week {words.listed(earlier)}.")
    return chosen


def state(read: Readings, troop: str, week_ending: date) -> str:
    """One sentence of the state, as Markdown."""
    row = read.row("standing", week_ending, troop) if week_ending in read.days() else None
    follows = actions.follows(troop, week_ending)
    is_sent = follows or bool(row and row["submitted"])
    week = words.plain(f"Week {readings.season().week_number(week_ending)}")
    if actions.is_kept(troop, week_ending):
        return f"{week} is {'sent; your changes to it are' if is_sent else 'begun and'} **not sent yet**."
    if follows:
        return f"{week} has come in; its figures follow within a minute."
    if is_sent:
        return f"{week} is sent. Anything wrong? Correct it here and send it again."
    return f"{week} is **not sent yet**. Fill in what happened, look it over, send it."


def findings(looked: Looked) -> None:
    """What is to mend, what may be a slip, what is worth knowing; of a workbook with the copy to fetch."""
    found = looked.found
    if looked.version is None:
        findings_to_mend.in_words(lines(found.findings), found.questions)
    else:
        findings_to_mend.in_words(*week_form.found_in_fields(found, readings.season()))
    if (found.is_held or found.questions) and looked.version is None:
        back = of_preview(looked.name, found)
        st.download_button(
            "Copy with a note on each cell", back.copy(), back.copy_name, XLSX, on_click="ignore", width="stretch",
            key="marked_up",
        )  # fmt: skip


def change_table(found: list[Change], currency: str, *, is_again: bool) -> None:
    """What was and what will be, a line each; of a week that was not sent before, what it says."""

    def said(value: Any, column: str) -> str:
        if value is None:
            return "nothing"
        return words.money(value, currency) if column in MONEY else words.number(value)

    rows = ["| What | Was | Will be |", "|:--|--:|--:|"] if is_again else ["| What | |", "|:--|--:|"]
    for one in found:
        what = f"{one.of or PARTS[one.table][0]}: {LABELS[one.column][:1].lower()}{LABELS[one.column][1:]}"
        was = f"{words.plain(said(one.before, one.column))} | " if is_again else ""
        rows.append(f"| {words.plain(what)} | {was}{words.bold(said(one.after, one.column))} |")
    st.markdown("\n".join(rows))


def change_list(before: Any, after: Any, currency: str, *, is_again: bool) -> None:
    """What would be sent in all, and every value that would be another."""
    found = changes(before, after)
    if not found:
        st.markdown(
            "Nothing would change: this is what holds already." if is_again else "It reports nothing but zeros."
        )
        return
    change_table(totals(before, after), currency, is_again=is_again)
    with st.expander(f"Line by line: {words.plural(len(found), 'value')}", expanded=len(found) <= 12):
        change_table(found, currency, is_again=is_again)


def look_over(place: Place) -> None:
    """Judges the draft as it stands; what would be sent is kept for the button that sends it."""
    draft = actions.draft(place.troop, place.week_ending)
    sheets = sheets_of(draft, place.season, place.troop, place.week_ending)
    name = f"Troop {place.troop}, week {place.season.week_number(place.week_ending)}.xlsx"
    _look(sheets, name, lambda: workbook(sheets), draft.version)


def _look(given: Any, name: str, payload: Callable[[], bytes], version: int | None = None) -> None:
    try:
        st.session_state[LOOKED] = Looked(actions.look_over(given, name), name, payload(), version)
    except Stop as stop:
        st.session_state[LOOKED] = str(stop)


def drop_workbook() -> None:
    """A workbook in place of filling in on the page."""
    with st.form("workbook", border=False, clear_on_submit=True):
        given = st.file_uploader(
            "The troop's workbook (.xlsx, .ods or .xls)", type=KINDS, key="workbook_file",
            max_upload_size=MOST_LEADER_MEGABYTES,
        )  # fmt: skip
        pressed = st.form_submit_button("Look the workbook over", width="stretch")
    if pressed and given is not None:
        name = week_form.name_of(given.name)
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
        elif _is_older(looked):
            st.info("Something was typed since this was looked over. Look it over once more before you send it.")
        else:
            _would(read, looked)
        st.button("Go on filling in", on_click=lambda: st.session_state.pop(LOOKED, None), width="stretch")


def _is_older(looked: Looked) -> bool:
    """Whether the draft holds something else by now than what was looked over."""
    found = looked.found
    if looked.version is None or found.troop is None or found.week_ending is None:
        return False
    return actions.draft(found.troop, found.week_ending).version != looked.version


def _would(read: Readings, looked: Looked) -> None:
    season, currency, found = readings.season(), read.rules()["currency"], looked.found
    week = (
        f"week {season.week_number(found.week_ending)}, to {words.day(found.week_ending)}" if found.week_ending else ""
    )
    if found.is_held:
        st.markdown(f"#### {words.plain(f'Something must be mended before {week or looked.name} can be sent')}")
        findings(looked)
        return
    if found.troop is None or found.week_ending is None:
        return
    before = readings.sent(found.troop, found.week_ending)
    is_again = any(before.values())
    st.markdown(f"#### {words.plain(f'Troop {found.troop}, {week}')}")
    st.markdown("This takes the place of what was sent before. What changes:" if is_again else "What you report:")
    change_list(before, found.rows, currency, is_again=is_again)
    findings(looked)
    if found.questions:
        st.caption("If it is right as it is, send it: nothing more is asked of you.")
    if st.button("Send this week", type="primary", width="stretch", key="send"):
        with st.spinner("Sending"):
            _send(looked, found.troop, found.week_ending)
        st.rerun()


def _send(looked: Looked, troop: str, week_ending: date) -> None:
    try:
        outcome = actions.send_week(looked.payload, looked.name, troop, week_ending, looked.found)
    except Stop as stop:
        st.session_state[LOOKED] = f"Not sent: {stop}"
        return
    if outcome.status in {"taken in", "already taken in"} and looked.version is not None:
        actions.drop_draft(troop, week_ending, only=looked.version)  # what was typed since stays
    st.query_params.pop(IN_ADDRESS, None)  # whoever loads the page again is offered the next week
    st.session_state[DONE] = (outcome.status, looked.name)
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
        st.info(words.plain(f"{name} had come in before, word for word, and counts already: nothing changes."))
    else:
        st.warning(words.plain(f"{name} has come in and is held: your coordinator sees why."))


@st.fragment(run_every=2)
def figures_follow(troop: str, week_ending: date) -> None:
    """Shows the page anew once the figures with a week that has come in are there."""
    if not actions.follows(troop, week_ending):
        st.rerun()
    st.caption("The figures with it are being made. You can correct it here all the same.")


def show() -> None:
    """The screen."""
    read = readings.now()
    troop = own_troop.choose(read)
    week_ending = choose_week(read, troop)
    place = Place(troop, week_ending, readings.season())
    st.markdown(f"#### {state(read, troop, week_ending)}")
    follows = actions.follows(troop, week_ending)
    told_of_sending(stays=follows)
    if follows:
        figures_follow(troop, week_ending)
    looked = st.session_state.get(LOOKED)
    version = looked.version if isinstance(looked, Looked) and not _is_older(looked) else None
    week_form.show(read, place, looked=version, on_look=lambda: look_over(place))
    looked_over(read)
    with st.expander("Or drop the workbook"):
        drop_workbook()
    st.caption(
        "Cash is best counted by two adults who are not related, and banked promptly. Use codes, never names of "
        "children or buyers, in notes too."
    )
    if actions.is_kept(troop, week_ending):
        begin_again(place)


def begin_again(place: Place) -> None:
    """The way to throw the draft away: apart from all else, and behind a second thought."""
    with st.expander("Begin this week again"):
        st.markdown("This throws away what was typed and not sent, on every device. What was sent stays as it is.")
        st.button("Throw the draft away", on_click=_throw_away, args=(place,), width="stretch")


def _throw_away(place: Place) -> None:
    actions.drop_draft(place.troop, place.week_ending)
    st.session_state.pop(LOOKED, None)


show()
