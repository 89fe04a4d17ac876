"""Is the season's frame right?"""

import hashlib
from typing import Any

import streamlit as st

from dashboard.data import care, readings
from dashboard.data.readings import Readings
from dashboard.parts import explained, season_fields, tables, words
from pipelines.definitions.errors import BrokenSeason, Stop
from pipelines.definitions.measures import RELATIONS
from pipelines.definitions.season import Season, read_season
from pipelines.definitions.season_form import Section, sections
from pipelines.definitions.season_text import Edits
from pipelines.workflow.season_change import Moved

TITLE = "Set up"
ORDER = 80
GROUP = "Season"
ROLES = ("coordinator",)
BASE, LOOKED, SAID = "set_up_base", "set_up_looked", "set_up_said"
AS_TEXT = "As text"


def lacking(read: Readings) -> list[str]:
    """What the book still needs before a first week can close."""
    needed = (
        ("troops", "the list of troops"),
        ("roster", "the roster of participants"),
        ("supply", "the list of what was supplied"),
    )
    return [told for fact, told in needed if not read.facts(fact)]  # type: ignore[arg-type]


def state(season: Season, missing: list[str]) -> str:
    """One sentence of the state, as Markdown."""
    frame = season.season
    days = f"{words.day(frame.first_day)} to {words.day(frame.last_day)}"
    told = (
        f"{words.bold(frame.title)}: {words.plain(days)}, {words.plural(len(season.week_endings), 'week')}, "
        f"{words.plural(len(season.items), 'item')}, {words.plural(len(season.dues), 'due date')}"
    )
    return f"{told}. Still to come in: {words.plain(words.listed(missing))}." if missing else f"{told}."


def _said(stop: Stop) -> str:
    """What stops a season, in the words of the form."""
    lines = [line.strip().removeprefix("season.toml: ") for line in str(stop).splitlines()]
    return "\n".join(f"- {words.plain(line)}" for line in lines if line and line != "season.toml needs mending:")


def begin(text: str) -> str:
    """The text that the form began from; it stays until what was typed is kept or put away."""
    return str(st.session_state.setdefault(BASE, text))


def put_away() -> None:
    """Forgets what was typed, and begins from what holds now."""
    for name in (BASE, LOOKED):
        st.session_state.pop(name, None)


def form(section: Section, season: Season, base: str) -> None:
    """One section to fill in; what it would change is shown before it is kept."""
    mark = f"{hashlib.sha256(base.encode()).hexdigest()[:8]}_{section.name}"
    looked = st.session_state.get(LOOKED) == mark
    edits, faults = season_fields.edits_of(section, season, mark) if looked else (Edits(), {})
    with st.form(f"form_{mark}", border=True):
        season_fields.fields(section, season, mark, faults)
        st.form_submit_button(
            "Look at what it changes", type="primary", on_click=lambda: st.session_state.update({LOOKED: mark})
        )
    if not looked:
        return
    edits, faults_now = season_fields.edits_of(section, season, mark)
    if faults_now != faults:
        st.rerun()  # a table's rows are known once it has been drawn
    if faults:
        st.warning(f"{words.plural(len(faults), 'answer')} to mend: it is said beside each. Nothing was changed.")
    elif not edits.places():
        st.info("Nothing differs from what holds now.")
    else:
        preview(base, edits)


def preview(base: str, edits: Edits) -> None:
    """What the change would do to published figures; then it can be kept."""
    try:
        with st.spinner("Working out what it changes"):
            _season, as_of, moved = care.foreseen(base, edits)
    except BrokenSeason as stop:
        st.warning(f"Not yet:\n\n{_said(stop)}")
        return
    with st.container(border=True):
        st.markdown(words.bold("What it would change"))
        st.markdown(_moved_said(moved))
        st.caption(f"Of the area, as of {words.day(as_of)}. Papers that went stay as they went.")
        with st.container(horizontal=True):
            if st.button("Keep it", type="primary"):
                _keep(lambda: care.keep_season(base, edits))
            if st.button("Put away"):
                put_away()
                st.rerun()


def _moved_said(moved: list[Moved]) -> str:
    lines = [
        f"| {words.plain(told.label)} | {words.plain(explained.shown(one.now, told.unit))} | "
        f"{words.plain(explained.shown(one.then, told.unit))} |"
        for one in moved
        if (told := RELATIONS["area"].get(one.measure))
    ]
    if not lines:
        return "No published figure of the area."
    return "\n".join(["| | Published | Would be |", "|:--|--:|--:|", *lines])


def _keep(keeping: Any) -> None:
    try:
        with st.spinner("Keeping the rules and making the figures anew"):
            keeping()
    except Stop as stop:
        st.warning(_said(stop))
        return
    put_away()
    st.session_state[SAID] = "The rules are kept, and the figures are made anew."
    st.rerun()


def as_text(text: str) -> None:
    """The rules as the text they are kept in, with its comments."""
    st.caption("The same rules as text, as they lie in the book's folder. Comments begin with #.")
    with st.form("season_text", border=False):
        typed = st.text_area("The rules as text", text, height=500, label_visibility="collapsed")
        pressed = st.form_submit_button("Keep this text", type="primary")
    if pressed and typed != text:
        _keep(lambda: care.keep_season_text(text, typed))
    elif pressed:
        st.info("Nothing differs from what holds now.")


def show() -> None:
    """The screen."""
    read, text = readings.now(), care.season_text()
    if st.session_state.get(SAID):
        st.success(st.session_state.pop(SAID))
    try:
        season = read_season(begin(text))
    except BrokenSeason as stop:
        put_away()
        st.markdown("#### The season's rules cannot be read: the figures shown are those of before.")
        st.warning(_said(stop))
        as_text(text)
        return
    missing = lacking(read)
    st.markdown(f"#### {state(season, missing)}")
    if missing:
        tables.go("submissions", "Take files in")
    if begin(text) != text:
        st.info("The rules were changed meanwhile. What you typed stays; put it away to see what holds now.")
        st.button("Put away what I typed", on_click=put_away)
    parts = {one.name: one for one in sections()}
    part = st.radio(
        "Part", [*parts, AS_TEXT], key="set_up_part", horizontal=True, label_visibility="collapsed",
        format_func=lambda name: parts[name].title if name in parts else name,
    )  # fmt: skip
    if part == AS_TEXT:
        as_text(text)
        return
    st.caption(f"{parts[part].label}.")
    form(parts[part], season, begin(text))


show()
