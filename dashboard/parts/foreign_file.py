"""Files from elsewhere that wait, on the screen Submissions: how each would be read, corrected, confirmed, taken back.

Comes in: the waiting files, each with its draft. Goes out: what is said of it, kept as it is said; a mapping in use
once it is confirmed.
"""

from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import actions
from dashboard.parts import words
from dashboard.parts.mapping_fields import fields
from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import BrokenMapping, Stop
from pipelines.intake.elsewhere.reading_shown import Look
from pipelines.intake.judging.judge import text_of
from pipelines.workflow.corrections import Corrections
from pipelines.workflow.foreign_files import Draft, Waiting

TOLD = "mapping_told"
SHOWN = 12
POINTED = 300  # rows of a sheet that can be pointed at
WIDEST = 12  # columns of them that are shown


def show() -> None:
    """The files that wait for a mapping, one at a time, and the mappings in use; nothing where there are neither."""
    for said in st.session_state.pop(TOLD, []):
        st.info(words.plain(said))
    files = actions.waiting_files()
    if files:
        st.subheader("From elsewhere: confirm how it is read", anchor=False)
        st.caption(
            "Nothing of these files is counted yet. What you say is kept as you say it; once you confirm it, it is "
            "used for files with the same headers too."
        )
        file = files[0]
        if len(files) > 1:
            file = st.selectbox("File", files, format_func=lambda one: one.name, key="foreign_file") or files[0]
        with st.container(border=True):
            _one(file)
    _in_use()


def _one(file: Waiting) -> None:
    """One file: what it is taken for, how its columns are read, what is asked."""
    try:
        draft = actions.foreign_draft(file)
    except Stop:  # a photo, say: what it is stands below, among what is held
        draft = None
    if draft is None:
        how = "Drop it again as a table; or, if it came by mistake, ask no more about it: below, under Held, and why."
        st.markdown(f"{words.bold(file.name)} holds nothing like a table. {how}")
        return
    key = _key(file)
    try:
        said = _whole(draft, key)
        if said is None:
            found = draft.forecast()
            said = fields(draft, found, f"{key}_{draft.stated['table']}")
        if said != Corrections():
            _keep(file, said)
            return
        _read_so(found)
        _asked(draft, found)
    except (BrokenMapping, Stop) as stop:
        for line in str(stop).splitlines()[-6:]:
            st.warning(words.plain(line.strip()))
        found = None
    with st.container(horizontal=True):
        is_ready = found is not None and found.may_be_confirmed
        label = "Confirm, and take in what is not held" if is_ready and found and found.rows_held else "Confirm"
        if st.button(label, type="primary", key=f"{key}_confirm", disabled=not is_ready):
            _confirm(draft)
        if draft.is_kept and st.button("Begin anew", key=f"{key}_drop", help="Throws away what you said of this file."):
            actions.drop_foreign_draft(file)
            st.rerun()


def _key(file: Waiting) -> str:
    """The start of its fields' keys: another one where the draft was changed elsewhere, so that fields show it."""
    mine, now = f"mapping_of_{file.file_no}", actions.kept_as(file)
    turn, last = st.session_state.get(mine, (0, now))
    turn += last != now
    st.session_state[mine] = (turn, now)
    return f"foreign_{file.file_no}_{turn}"


def _keep(file: Waiting, said: Corrections) -> None:
    """Keeps what was said, and shows how the file is read by it."""
    actions.said_of(file, said)
    mine = f"mapping_of_{file.file_no}"
    st.session_state[mine] = (st.session_state[mine][0], actions.kept_as(file))
    st.rerun()


def _whole(draft: Draft, key: str) -> Corrections | None:
    """What the person says of the table as a whole: what a row is, sheet, lines of its header, which rows."""
    now = draft.stated["table"]
    tables = [*draft.rivals, *(name for name in TABLES if name not in draft.rivals)]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        table = st.selectbox(
            f"A row of {words.plain(draft.file.name)} is", tables, index=None if draft.rivals else tables.index(now),
            key=f"{key}_table", placeholder="Which is it?",
            format_func=lambda name: f"{TABLES[name].a_row_is} ({TABLES[name].title})",
        )  # fmt: skip
        names = [one.name for one in draft.sheets]
        sheet = draft.sheet.name
        if len(names) > 1:
            sheet = st.selectbox("Sheet", names, index=names.index(sheet), key=f"{key}_sheet", width=200) or sheet
        lines = st.selectbox(
            "Lines of its header", [1, 2], index=draft.head.lines - 1, key=f"{key}_{draft.head.row}_lines", width=160
        )
    if sheet != draft.sheet.name:
        return Corrections(sheet=sheet)
    if rows := _pointed(draft, key):
        return Corrections(sheet=sheet, rows=rows)
    if table and (table != now or draft.rivals):
        return Corrections(table=table)
    return Corrections(header_rows=lines) if lines != draft.head.lines else None


def _pointed(draft: Draft, key: str) -> tuple[int, int] | None:
    """The rows of one of several tables on the sheet: its header and its last row are pointed at."""
    if draft.sheet.rows is None or not st.toggle("Its sheet holds more than one table", key=f"{key}_parts"):
        return None
    st.caption("Tick the row of the header and the last row of this table; the other table is asked about afterwards.")
    width = min(WIDEST, max(map(len, draft.sheet.rows)))
    rows: list[dict[str, Any]] = [
        {"Row": k} | {f"c{at}": text_of(row[at]) if at < len(row) else "" for at in range(width)}
        for k, row in enumerate(draft.sheet.rows[:POINTED], 1)
    ]
    event = st.dataframe(
        pl.DataFrame(rows, infer_schema_length=None), hide_index=True, key=f"{key}_pointed", on_select="rerun",
        selection_mode="multi-row", alt="The sheet's rows",
        column_config={f"c{at}": st.column_config.TextColumn("") for at in range(width)},
    )  # fmt: skip
    chosen = sorted(event.selection.rows) if event and event.selection else []
    if len(chosen) < 2:
        return None
    first, last = chosen[0] + 1, chosen[-1] + 1
    is_so = draft.stated.get("until") and draft.head.row + 1 == first
    return None if is_so else (first, last)


def _read_so(found: Look) -> None:
    """How the first rows are read, how many would be held, and what there is to mend."""
    held = (
        f"{words.of(found.rows_held, found.rows_read)} rows would be held" if found.rows_held else "none would be held"
    )
    st.markdown(f"**How it is read**: {words.plural(found.rows_read, 'row')}, {held}.")
    names = [line.column for line in found.lines if line.fed_by]
    rows = [
        {name.replace("_", " "): "" if row[name] is None else str(row[name]) for name in names} for row in found.rows
    ]
    if rows and names:
        st.dataframe(pl.DataFrame(rows), hide_index=True, alt="The first rows as they would be read")
    listed = sorted(found.findings, key=lambda one: one.is_note)
    for one in listed[:SHOWN]:
        expected = "" if one.is_note else f"; expected {one.expected}"
        st.markdown(f"- {words.bold(f'{one.sheet} {one.cell}'.strip())}: {words.plain(f'{one.found}{expected}')}")
    if len(listed) > SHOWN:
        st.caption(f"and {words.number(len(listed) - SHOWN)} more")


def _asked(draft: Draft, found: Look) -> None:
    """What is asked, each as a sentence; columns that nothing uses can be left out at once."""
    for question in found.questions:
        if question.stops:
            st.warning(words.plain(question.said))
        elif not question.word:
            st.info(words.plain(question.said))
        if question.about == "left_over" and st.button("Leave them out", key=f"leave_{draft.file.file_no}"):
            _keep(draft.file, Corrections(left_out=tuple(question.choices)))


def _confirm(draft: Draft) -> None:
    try:
        with st.spinner("Keeping how it is read, and trying again what is held"):
            outcomes = actions.confirm_mapping(draft)
    except Stop as stop:
        st.warning(words.plain(stop))
        return
    mine = [one for one in outcomes if one.file_no == draft.file.file_no]
    told = [f"{one.name}: {one.status}, {words.plural(one.rows, 'row')}." for one in mine]
    others = [one for one in outcomes if one.status == "taken in" and one not in mine]
    if others:
        told.append(f"Taken in too: {words.listed([one.name for one in others])}.")
    st.session_state[TOLD] = told
    st.rerun()


def _in_use() -> None:
    """The mappings that were confirmed; each can be taken back."""
    names = actions.confirmed_mappings()
    if not names:
        return
    with st.expander(f"In use for files from elsewhere: {len(names)}", key="mappings_in_use"):
        for name, table in names.items():
            with st.container(horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"):
                st.markdown(f"{words.bold(name.removesuffix('.toml'))}: {words.plain(TABLES[table].a_row_is)}")
                if st.button("Take back", key=f"take_back_{name}", help="Used for no more files; what came in stays."):
                    with st.spinner("Taking it back"):
                        st.session_state[TOLD] = list(actions.take_mapping_back(name))
                    st.rerun()
