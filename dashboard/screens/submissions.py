"""What came in, what is missing, what is held and why?"""

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import actions, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import findings_to_mend, foreign_file, tables, what_changed, words
from pipelines.definitions.asked import answers_to
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import MOST_UPLOAD_MEGABYTES
from pipelines.messages.finding_lines import lines

TITLE = "Submissions"
ORDER = 60
GROUP = "In and out"
ROLES = ("coordinator",)
KINDS = ["xlsx", "xlsm", "ods", "xls", "csv", "tsv", "txt", "parquet", "zip"]
OUTCOMES, BEFORE = "taken_in", "before_taken_in"
MOST_CODES = 5  # exceptions that came or went, named one by one
DROP = "dropped_files"
SENT, AGAIN, HELD, MISSING = "✓ sent", "✓ sent {} times", "! held", "? missing"
NEWER_HELD = "✓ sent, ! held"


def mark(row: Row) -> str:
    """A cell of the grid: a mark and a word."""
    if row["submitted"]:
        if row["files_held"]:
            return NEWER_HELD
        return SENT if row["times_sent"] <= 1 else AGAIN.format(row["times_sent"])
    return HELD if row["files_held"] else MISSING


def state(read: Readings, held: tuple[Row, ...]) -> str:
    """One sentence of the state, as Markdown."""
    rows = read.rows("submissions")
    sent = sum(row["submitted"] for row in rows)
    came = [row["troop"] for row in rows if not row["submitted"] and row["files_held"]]
    waiting = [row["troop"] for row in rows if not row["submitted"] and not row["files_held"]]
    parts = [f"{words.bold(words.of(sent, len(rows)))} submissions are in for this week"]
    if came:
        parts.append(f"came in and waits to be mended: {words.plain(words.listed(came))}")
    if waiting:
        parts.append(f"missing: {words.plain(words.listed(waiting))}")
    if held:
        files = words.plural(len({row["file_no"] for row in held}), "file")
        parts.append(f"{words.bold(files)} held, wholly or in part, and counted nowhere")
    return "; ".join(parts) + "."


def drop() -> None:
    """Files can be dropped here; what became of them is told below."""
    with st.form("drop", border=True, clear_on_submit=True):
        given = st.file_uploader(
            "Drop troops' workbooks and the organisation's tables here",
            type=KINDS, accept_multiple_files=True, key=DROP, max_upload_size=MOST_UPLOAD_MEGABYTES,
            help="Workbooks (.xlsx, .ods, .xls), tables (.csv, .parquet), zips of them. Nothing is ever lost.",
        )  # fmt: skip
        pressed = st.form_submit_button("Take in", type="primary")
    if pressed and not given:
        st.info("Choose files first, then press Take in.")
    if pressed and given:
        read = readings.now()
        st.session_state[BEFORE] = (read.known_at(), {row["code"]: row["what"] for row in read.rows("exceptions")})
        with st.spinner(f"Taking in {words.plural(len(given), 'file')}"):
            st.session_state[OUTCOMES] = take_in(given)
        st.rerun()
    told = st.session_state.get(OUTCOMES)
    if told is not None:
        outcomes(told)


def take_in(given: list[Any]) -> list[Any] | str:
    """Takes in uploaded files; the outcomes, or why nothing was taken in."""
    with tempfile.TemporaryDirectory(prefix="musterbook-drop-") as folder:
        paths = []
        for place, one in enumerate(given):
            spot = Path(folder) / str(place)
            spot.mkdir()
            path = spot / (Path(one.name.replace("\\", "/")).name or "file")
            path.write_bytes(one.getbuffer())
            paths.append(path)
        try:
            return actions.take_files_in(paths)
        except Stop as stop:
            return str(stop)


def outcomes(told: list[Any] | str) -> None:
    """What became of the files that were dropped."""
    if isinstance(told, str):
        st.warning(words.plain(f"Nothing was taken in: {told}"))
        return
    with st.container(border=True):
        st.markdown(f"{words.bold('What became of your files')}")
        for one in told:
            rows = f", {words.plural(one.rows, 'row')}" if one.rows else ""
            wait = f", {words.number(one.rows_held)} of them held" if one.rows_held and one.status != "held" else ""
            st.markdown(f"- {words.bold(one.name)}: {words.plain(one.status + rows + wait)}")
            if one.findings:
                findings_to_mend.table(lines(one.findings), (), key=f"outcome_{one.file_no}_{one.name}")
        if BEFORE in st.session_state:
            what_it_changed(*st.session_state[BEFORE])
        st.button("Put this list away", on_click=put_away)


def put_away() -> None:
    """Forgets what became of the files that were dropped."""
    for name in (OUTCOMES, BEFORE):
        st.session_state.pop(name, None)


def what_it_changed(since: datetime | None, were: dict[str, str]) -> None:
    """Which figures an upload moved, and which exceptions came and went with it."""
    read = readings.now()
    if since is None or read.known_on or since == read.known_at():
        return
    with st.spinner("Working out what it changed"):
        found, moved = read.changes(since)
    st.markdown(f"{words.bold('What it changed:')} {what_changed.in_short(found, moved)}")
    now = {row["code"]: row["what"] for row in read.rows("exceptions")}
    for told, codes, says in (("new to follow up", now.keys() - were, now), ("cleared", were.keys() - now, were)):
        if codes:
            first = "".join(f"\n    - {words.plain(f'{code}: {says[code]}')}" for code in sorted(codes)[:MOST_CODES])
            st.markdown(f"- {words.bold(words.plural(len(codes), 'thing'))} {told}{first}")


def grid(read: Readings) -> None:
    """Weeks by troops; choosing a cell tells what came in for it."""
    rows = [row for row in read.weeks("submissions") if row["as_of"] <= read.as_of]
    days = sorted({row["as_of"] for row in rows}, reverse=True)
    head = {day: f"Week {next(row['week_no'] for row in rows if row['as_of'] == day)}" for day in days}
    waits = {row["troop"] for row in rows if row["as_of"] == read.as_of and mark(row) != SENT}
    troops = sorted({row["troop"] for row in rows}, key=lambda troop: (troop not in waits, troop))
    cells = {(row["troop"], row["as_of"]): mark(row) for row in rows}
    frame = pl.DataFrame({"Troop": troops} | {head[day]: [cells[troop, day] for troop in troops] for day in days})
    config: dict[str, Any] = {"Troop": st.column_config.TextColumn(pinned=True, width=70)}
    config |= {
        head[day]: st.column_config.TextColumn(help=f"The week to {words.full_day(day)}", width=112) for day in days
    }
    wide, beside = st.columns([3, 2], gap="medium")
    event = wide.dataframe(
        frame, hide_index=True, column_config=config, key="grid", on_select="rerun", selection_mode="single-cell",
        height="content" if len(troops) <= tables.MOST_ROWS else tables.ROW_PIXELS * tables.MOST_ROWS,
        alt="Submissions by troop and week",
    )  # fmt: skip
    wide.caption(
        "✓ sent: it counts, of several the newest. ! held: something is to mend, it counts nowhere. ? missing: "
        "nothing came in."
    )
    chosen = event.selection.cells if event and event.selection else []
    if not chosen:
        beside.caption("Choose a cell to see what came in for it, each version, and what is held and why.")
        return
    place, column = chosen[0]
    day = next((day for day in days if head[day] == column), days[0])
    with beside:
        one(read, troops[place], day)


def one(read: Readings, troop: str, day: Any) -> None:
    """What came in for one troop and week: every version, newest first."""
    with st.container(border=True):
        with st.container(horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"):
            st.markdown(words.bold(f"Troop {troop}, week to {words.day(day)}"))
            tables.way_to_troop(troop, "Open the troop")
        versions = [row for row in read.facts("versions", troop) if row["week_ending"] == day]
        if not versions:
            people = read.facts("troops", troop)
            call = (
                ", ".join(str(people[0][name]) for name in ("leader", "phone", "email") if people[0].get(name))
                if people
                else ""
            )
            st.markdown("Nothing came in for this week." + (f" Ask {words.plain(call)}." if call else ""))
        for row in versions:
            told = {"held": "held, counts nowhere", "counts": "counts", "superseded": "superseded by a newer one"}[
                row["status"]
            ]
            when = f"{words.plural(row['rows_read'], 'row')}, came in {words.instant(row['landed_at'])}"
            st.markdown(f"- {words.bold(row['name'])}: {told}; {words.plain(when)}")
            if row["is_current"] and row["status"] != "held":
                back = read.returned(row["file_no"])
                if back and back.questions:
                    findings_to_mend.goes_back(read, row["file_no"], "", key=f"asked_{row['file_no']}")
            if row["status"] == "held":
                for unit in _units(read, row["file_no"], troop, day):
                    _why(read, row["file_no"], unit, "cell")


def _units(read: Readings, file_no: int, troop: str, day: Any) -> list[str]:
    found = [
        row["unit"]
        for row in read.held()
        if row["file_no"] == file_no and row["troop"] == troop and row["week_ending"] == day
    ]
    return sorted(set(found)) or [""]


def _why(read: Readings, file_no: int, unit: str, of: str) -> None:
    """Why a file is held, and the answers to what it asks; `of`: the list, or the cell chosen below it."""
    findings_to_mend.goes_back(read, file_no, unit, key=f"why_{of}_{file_no}_{unit}")
    back = read.returned(file_no, unit)
    with st.container(horizontal=True):
        for word, label in answers_to(back.findings if back else ()).items():
            key = f"answer_{of}_{file_no}_{unit}_{word}"
            st.button(label, key=key, on_click=_answer, args=(file_no, word))


def _answer(file_no: int, word: str) -> None:
    """Keeps what the coordinator says of a file; what became of it is told above."""
    try:
        st.session_state[OUTCOMES] = actions.answer(file_no, word)
    except Stop as stop:
        st.session_state[OUTCOMES] = str(stop)


def held_list(read: Readings, held: tuple[Row, ...]) -> None:
    """What is held and why, file by file."""
    st.subheader("Held, and why", anchor=False)
    unread = read.unread()
    if not held and not unread:
        st.success("Nothing is held.")
        return
    st.caption(
        "Mend it in the file and drop the file again; or, where a feed was behind, take the newer feed in: what is "
        "held is tried again by itself."
    )
    for row in held[:20]:
        whose = f"troop {row['troop']}" if row["troop"] else "troop not known"
        when = f", week to {words.day(row['week_ending'])}" if row["week_ending"] else ""
        title = f"{row['name']}: {whose}{when}, {words.plural(row['rows_held'], 'row')} held"
        with st.expander(words.plain(title), key=f"held_{row['file_no']}_{row['unit']}"):
            _why(read, row["file_no"], row["unit"], "list")
    if len(held) > 20:
        st.caption(f"and {len(held) - 20:,} more")
    for row in unread[:20]:
        with st.expander(words.plain(f"{row['name']}: not recognised"), key=f"unread_{row['file_no']}"):
            _why(read, row["file_no"], "", "list")
            st.button(
                "Ask no more about it",
                key=f"dismiss_{row['file_no']}", on_click=_dismiss, args=(row["file_no"],),
                help="For a photo, or a file that came by mistake. It stays kept, and counts for nothing.",
            )  # fmt: skip


def _dismiss(file_no: int) -> None:
    """A file that nobody can read waits no more."""
    try:
        actions.dismiss(file_no)
    except Stop as stop:
        st.session_state[OUTCOMES] = str(stop)


def show() -> None:
    """The screen."""
    read = readings.now()
    held = tuple(row for row in read.held() if not row["is_replaced"])
    if read.rows("submissions"):
        st.markdown(f"#### {state(read, held)}")
    else:
        st.markdown("#### This book is empty. Drop the troops list, the roster and the first submissions here.")
    drop()
    foreign_file.show()
    held_list(read, held)
    if read.rows("submissions"):
        st.subheader("What came in, by troop and week", anchor=False)
        grid(read)


show()
