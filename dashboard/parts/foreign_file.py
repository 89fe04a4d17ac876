"""Files from elsewhere that wait, on the screen Submissions: how each would be read, corrected, confirmed.

Comes in: the waiting files with the mapping proposed for each. Goes out: a mapping that is kept, once it is confirmed.
"""

from contextlib import suppress
from datetime import date

import polars as pl
import streamlit as st

from dashboard.data import actions
from dashboard.parts import words
from pipelines.definitions.contract import TABLES
from pipelines.definitions.errors import BrokenMapping, Stop
from pipelines.intake.elsewhere.reading_shown import Look, Question
from pipelines.workflow.corrections import Corrections, with_corrections
from pipelines.workflow.foreign_files import Draft, Waiting

NONE, SAME = "(nothing)", "(the same in every row)"
TOLD = "mapping_told"
SHOWN = 12
USUAL = {"dates": ("day-first", "month-first"), "decimals": ("point", "comma")}
WAYS = {
    "day-first": "the day first",
    "month-first": "the month first",
    "year-first": "the year first, of two digits",
    "serial": "as a spreadsheet counts days",
    "point": "a point: 1,234.50",
    "comma": "a comma: 1.234,50",
}


def show() -> None:
    """The files that wait for a mapping, one at a time; nothing where none does."""
    _told()
    files = actions.waiting_files()
    if not files:
        return
    st.subheader("From elsewhere: confirm how it is read", anchor=False)
    st.caption(
        "Nothing of these files is counted yet. What you confirm is kept and used for files with the same headers."
    )
    file = files[0]
    if len(files) > 1:
        file = st.selectbox("File", files, format_func=lambda one: one.name, key="foreign_file") or files[0]
    with st.container(border=True):
        _one(file)


def _told() -> None:
    for said in st.session_state.pop(TOLD, []):
        st.info(words.plain(said))


def _one(file: Waiting) -> None:
    """One file: what it is taken for, how its columns are read, what is asked."""
    first = actions.foreign_draft(file)
    if first is None:
        st.markdown(f"{words.bold(file.name)} holds nothing like a table. Look at it, and send it again.")
        return
    key = f"foreign_{file.file_no}"
    tables = list(TABLES)
    proposed = first.stated["table"]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        table = st.selectbox(
            f"A row of {words.plain(file.name)} is", tables, index=tables.index(proposed), key=f"{key}_table",
            format_func=lambda name: f"{TABLES[name].a_row_is} ({TABLES[name].title})",
        )  # fmt: skip
        lines = st.selectbox("Lines of its header", [1, 2], index=first.head.lines - 1, key=f"{key}_lines", width=160)
    try:
        draft = actions.foreign_draft(file, "" if table == proposed else table, None, lines)
        if draft is None:
            return
        key = f"{key}_{table}_{lines}"
        found = draft.look()
        done = with_corrections(draft.with_({"items": {}}), _said(draft, found, key))
        found = done.look()
    except BrokenMapping as broken:
        for line in str(broken).splitlines()[1:]:
            st.warning(words.plain(line.strip()))
        return
    except Stop as stop:
        st.warning(words.plain(stop))
        return
    _read_so(found)
    _asked(found)
    if st.button("Confirm", type="primary", key=f"{key}_confirm", disabled=not found.may_be_confirmed):
        _confirm(done)


def _said(draft: Draft, found: Look, key: str) -> Corrections:
    """What the person sets in the tables and fields below."""
    columns, constants, forms = _columns(draft, found, key)
    items = _items(draft, key)
    if items:
        columns = {name: header for name, header in columns.items() if name not in ("item", "packages")}
    at_first = [question for question in found.questions if question.word]
    dates, decimals = _ways(draft, found, key)
    by_case = None
    if {"item", "packages"} <= set(TABLES[draft.stated["table"]].names):
        by_case = st.toggle("Packages are stated in cases", draft.stated.get("by_case", False), key=f"{key}_cases")
    values = _words(at_first, key)
    return Corrections(
        columns=columns, constants=constants, forms=forms, items=items, values=values,
        dates=dates, decimals=decimals, by_case=by_case,
    )  # fmt: skip


def _columns(draft: Draft, found: Look, key: str) -> tuple[dict[str, str], dict[str, str], dict[str, str]]:
    """Which header feeds each column: an editable table; what differs from the proposal."""
    fed = draft.stated.get("columns", {})
    rows = []
    for line in found.lines:
        feed = fed.get(line.column, {})
        constant = draft.stated.get("constants", {}).get(line.column)
        special = f"cell {feed['cell']}" if "cell" in feed else line.fed_by if feed.get("by_price") else ""
        header = SAME if constant is not None else feed.get("header", special or NONE)
        form = feed.get("form", "")
        if "split" in feed:
            mark = feed["split"]
            form = f"{{}}{mark}*" if feed.get("part", 1) == 1 else ""
        rows.append({
            "Column": line.column.replace("_", " ") + (" *" if line.is_needed else ""), "Header": header,
            "In the file": "; ".join(line.samples), "Part that counts": form, "In every row": constant or "",
            "What it is": line.about,
        })  # fmt: skip
    others = [row["Header"] for row in rows if row["Header"] not in (NONE, SAME, *draft.head.labels)]
    options = [NONE, SAME, *dict.fromkeys(others), *draft.head.labels]
    edited = st.data_editor(
        pl.DataFrame(rows, infer_schema_length=None), hide_index=True, key=f"{key}_columns", num_rows="fixed",
        disabled=["Column", "In the file", "What it is"], alt="Which header feeds each column",
        column_config={
            "Column": st.column_config.TextColumn(help="* must be there", pinned=True, width=130),
            "Header": st.column_config.SelectboxColumn(options=options, required=True, width=170),
            "In every row": st.column_config.TextColumn(help="What it says in every row of this file", max_chars=200),
            "Part that counts": st.column_config.TextColumn(
                help="Where a cell holds two things: {} is the part that counts, * anything, such as {} / *",
                max_chars=200,
            ),
        },
    )  # fmt: skip
    headers: dict[str, str] = {}
    constants: dict[str, str] = {}
    forms: dict[str, str] = {}
    for line, before, now in zip(found.lines, rows, edited.to_dicts(), strict=True):
        name, header = line.column, now["Header"]
        constant = (now["In every row"] or "").strip()
        if header == SAME or (header == NONE and constant):
            constants[name] = constant
        elif header != before["Header"]:
            headers[name] = "" if header == NONE else header
        form = (now["Part that counts"] or "").strip()
        if form and form != before["Part that counts"] and header not in (NONE, SAME):
            forms[name] = form
    return headers, constants, forms


def _items(draft: Draft, key: str) -> dict[str, str]:
    """Columns that hold the packages of one item each."""
    table = TABLES[draft.stated["table"]]
    stated: dict[str, str] = draft.stated.get("items", {})
    if not {"item", "packages"} <= set(table.names):
        return {}
    is_wide = st.toggle("Its packages stand in a column for each item", bool(stated), key=f"{key}_wide")
    if not is_wide:
        return {}
    codes = list(draft.hints.season.codes)
    rows = [{"Header": label, "Item": stated.get(label, "")} for label in draft.head.labels]
    edited = st.data_editor(
        pl.DataFrame(rows), hide_index=True, key=f"{key}_items", num_rows="fixed", disabled=["Header"],
        column_config={"Item": st.column_config.SelectboxColumn(options=["", *codes])}, alt="Which item a column holds",
    )  # fmt: skip
    return {row["Header"]: row["Item"] for row in edited.to_dicts() if row["Item"]}


def _ways(draft: Draft, found: Look, key: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The order of days and the decimal sign, where the file holds texts that need them."""
    chosen: list[tuple[str, ...]] = []
    for about, label in (("dates", "How its days are written"), ("decimals", "What divides its decimals")):
        asked = [question for question in found.questions if question.about == about]
        stated = draft.stated.get(about)
        found_ways = [*(way for one in asked for way in one.choices), *([stated] if stated else [])]
        if not found_ways:
            chosen.append(())
            continue
        ways = list(dict.fromkeys([*USUAL[about], *found_ways]))
        shown = {way: _way(way, asked) for way in ways}
        way = st.radio(
            label, ways, index=ways.index(stated) if stated else None, key=f"{key}_{about}",
            format_func=lambda one, shown=shown: shown[one],
        )  # fmt: skip
        chosen.append((way,) if way and way != stated else ())
    return chosen[0], chosen[1]


def _way(way: str, asked: list[Question]) -> str:
    """A way of writing, with what it makes of the cell that is asked about."""
    means = next((one.choices[way] for one in asked if one.choices.get(way)), "")
    with suppress(ValueError):  # a number
        means = words.full_day(date.fromisoformat(means))
    return words.plain(f"{WAYS.get(way, way)}{f': {means}' if means else ''}")


def _words(asked: list[Question], key: str) -> tuple[tuple[str, str], ...]:
    """What words mean that the contract does not know."""
    if not asked:
        return ()
    st.markdown("Words that are not known. Rows with one that you leave open are held.")
    rows = [{"Column": one.column, "Word": one.word, "Means": ""} for one in asked]
    options = ["", *dict.fromkeys(choice for one in asked for choice in one.choices)]
    edited = st.data_editor(
        pl.DataFrame(rows), hide_index=True, key=f"{key}_words", num_rows="fixed", disabled=["Column", "Word"],
        column_config={"Means": st.column_config.SelectboxColumn(options=options)}, alt="What words mean",
    )  # fmt: skip
    return tuple((f"{row['Column']}:{row['Word']}", row["Means"]) for row in edited.to_dicts() if row["Means"])


def _read_so(found: Look) -> None:
    """How the first rows are read, and how many would be held."""
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
    mend = [one for one in found.findings if not one.is_note][:SHOWN]
    for one in mend:
        st.markdown(
            f"- {words.bold(f'{one.sheet} {one.cell}'.strip())}: {words.plain(f'{one.found}; expected {one.expected}')}"
        )
    if found.mapping.pass_over:
        st.caption(words.plain(f"Rows passed over: {', '.join(found.mapping.pass_over)}"))


def _asked(found: Look) -> None:
    for question in found.questions:
        if question.stops:
            st.warning(words.plain(question.said))
        elif not question.word:
            st.info(words.plain(question.said))


def _confirm(draft: Draft) -> None:
    try:
        with st.spinner("Keeping the mapping, and trying again what is held"):
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
