"""What leaves here?"""

import base64
import json
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from typing import Any
from urllib.parse import quote

import streamlit as st

from dashboard.data import actions, downloads, readings, snapshots
from dashboard.data.readings import Readings
from dashboard.parts import words
from pipelines.definitions.errors import Stop
from pipelines.reports import area_paper, letters
from pipelines.reports.rollup import FOR_ORGANISATION, roll_up, week_of
from pipelines.reports.statement import values
from pipelines.reports.typeset import pictures
from pipelines.reports.week import file_name
from pipelines.reports.whole_folder import MARK

TITLE = "Papers"
ORDER = 70
GROUP = "In and out"
ROLES = ("coordinator",)
OF_THE_AREA = (
    ("area.pdf", "The area on two pages", "for you alone: whom to call first, who owes"),
    ("meeting.pdf", "The area on one page", "for the meeting with leaders: no debt, and no troop's trouble"),
    ("rollup.xlsx", "The week as a workbook", "area, troops, items, money, taking part, what to follow up, notes"),
)
TABLES = ("standing.csv", "items.csv", "families.csv", "exceptions.csv", "ledger.beancount", MARK)
AREA = "The area"


def folder_of(read: Readings) -> Path:
    """Where the roll-up of the week chosen stands, made or not."""
    return snapshots.book().out / read.as_of.isoformat()


def manifest_of(read: Readings) -> dict[str, Any] | None:
    """What the roll-up of the week chosen says of itself; None where none is made."""
    path = folder_of(read) / MARK
    if not path.is_file():
        return None
    told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return told


def state(read: Readings, manifest: dict[str, Any] | None, week: int) -> str:
    """One sentence of the state, as Markdown."""
    if manifest is None:
        return f"The roll-up of week {week} is not made yet."
    made = words.instant(datetime.fromisoformat(manifest["made_at"].rstrip("Z")))
    count = len(manifest["files"])
    known = read.known_at()
    newer = bool(known and manifest["known_on"] and known > datetime.fromisoformat(manifest["known_on"].rstrip("Z")))
    after = " More has come in since: make it again." if newer else ""
    return f"The roll-up of week {week} was made on {words.plain(made)}: {count} papers.{after}"


def make(read: Readings, week: int) -> None:
    """The button that makes everything for the week, and the progress while it does."""
    with st.container(horizontal=True, vertical_alignment="center"):
        pressed = st.button(f"Make the roll-up of week {week}", type="primary", key="make_rollup")
        with_families = st.checkbox(
            "Statements with their page of families", value=True, key="with_families",
            help="Codes, packages and amounts of each family. Leave it out where a statement goes further.",
        )  # fmt: skip
    if not pressed:
        return
    if snapshots.viewer().troops is not None:
        raise Stop("The roll-up is made by the coordinator.")
    bar = st.progress(0.0, "Making papers")

    def tell(what: str, done: int, of: int) -> None:
        bar.progress(min(done / max(of, 1), 1.0), f"{what}: {done} of {of}")

    made = roll_up(snapshots.book(), read.as_of, with_families=with_families, progress=tell)
    actions.note("roll-up made", made.as_of.isoformat())
    st.rerun()


def for_organisation(read: Readings, week: int) -> None:
    """What goes to the organisation: made apart, so that nothing of families goes with it by mistake."""
    folder = folder_of(read).with_name(read.as_of.isoformat() + FOR_ORGANISATION)
    with st.expander("For the organisation"):
        st.markdown(
            "Tables and workbook of troops, items, money and stalls: no family's rows, no participant's code, no notes."
        )
        if st.button(f"Make the papers of week {week} for the organisation", key="make_for_organisation"):
            if snapshots.viewer().troops is not None:
                raise Stop("The roll-up is made by the coordinator.")
            made = roll_up(snapshots.book(), read.as_of, for_organisation=True)
            actions.note("roll-up for the organisation made", made.as_of.isoformat())
        if (folder / MARK).is_file():
            st.markdown(f"[{words.bold('All of it as one zip')}](/fetch/rollup/{folder.name}.zip)")


def fetch(read: Readings, path: str) -> str:
    """Where a paper of the roll-up is fetched."""
    return f"/fetch/rollup/{read.as_of.isoformat()}/{quote(path)}"


def papers_made(read: Readings, manifest: dict[str, Any], week: int) -> None:
    """What was made, to fetch."""
    files = manifest["files"]
    for path, title, about in OF_THE_AREA:
        if path in files:
            st.markdown(f"- [{words.bold(title)}]({fetch(read, path)}): {words.plain(about)}")
    counted = [sum(path.startswith(f"{kind}/") for path in files) for kind in ("statements", "letters")]
    whole = f"/fetch/rollup/{read.as_of.isoformat()}.zip"
    told = f"{words.plural(counted[0], 'statement')}, {words.plural(counted[1], 'letter')} and all that is below"
    st.markdown(f"- [{words.bold('Everything as one zip')}]({whole}): {words.plain(told)}")
    here = [f"[{words.plain(path)}]({fetch(read, path)})" for path in TABLES if path in files or path == MARK]
    st.markdown(f"- Tables and proof: {', '.join(here)}")
    st.caption(
        "ledger.beancount is the double entry as plain text, with the row behind every line; its ending is an open "
        "format that accounting programs read and check. The manifest names every paper with its checksum."
    )


def forms(read: Readings, week: int) -> None:
    """Workbooks to fill in, of any week."""
    st.subheader("Forms to fill in", anchor=False)
    weeks = range(1, len(readings.season().week_endings) + 1)
    if not read.facts("troops"):
        st.markdown("Take in the list of troops and the roster first: the forms are filled in with them.")
        return
    chosen = st.selectbox("Of week", weeks, index=min(week, len(weeks) - 1), key="forms_week", width=230)
    named = words.bold(f"Forms of week {chosen}")
    st.markdown(f"[{named}]({downloads.address(downloads.FORMS, chosen)}): one workbook a troop, all as one zip.")


def look(read: Readings, manifest: dict[str, Any] | None, week: int) -> None:
    """A paper as it will look, before or after it is made."""
    st.subheader("Look at one", anchor=False)
    troops = [row["troop"] for row in read.rows("standing")]
    chosen = st.selectbox("Paper of", [AREA, *troops], key="paper_of", width=230)
    with week_of(
        snapshots.book(), read.as_of, viewer=read.viewer, with_families=st.session_state.get("with_families", True)
    ) as paper:
        if chosen == AREA:
            pages, letter = pictures("summary.typ", area_paper.values(paper)), ""
        else:
            pages = pictures("statement.typ", values(paper, chosen))
            letter = letters.text(paper, chosen)
    if chosen != AREA:
        fetch_one(read, manifest, chosen, week)
    for number, (column, page) in enumerate(zip(st.columns(len(pages)), pages, strict=True), 1):
        column.html(picture(page, f"{chosen}, page {number}; its words stand in the paper itself"))
    if letter:
        with st.expander("The letter that goes with it"):
            st.text(letter)


def picture(page: bytes, told: str) -> str:
    """A picture within the page itself: there is no address by which somebody else could fetch it."""
    shown = base64.b64encode(page).decode("ascii")
    return f'<img src="data:image/png;base64,{shown}" alt="{escape(told)}" style="width:100%;border:1px solid #C9D3DC">'


def fetch_one(read: Readings, manifest: dict[str, Any] | None, troop: str, week: int) -> None:
    """One troop's papers, to fetch."""
    ways = [
        f"[Statement]({downloads.address('statement.pdf', week, troop)})",
        f"[Form for week {week + 1}]({downloads.address('form.xlsx', week, troop)})",
        f"[Count sheet to print]({downloads.address('count.pdf', week, troop)})",
    ]
    path = f"letters/{file_name(troop)}.eml"
    if manifest and path in manifest["files"]:
        ways.append(f"[Letter, as a draft for your mail program]({fetch(read, path)})")
    st.markdown(" · ".join(ways))


def show() -> None:
    """The screen."""
    read = readings.now()
    week = readings.season().week_number(read.as_of)
    if not read.rows("standing"):
        st.markdown("#### There are no papers of this week yet: nothing has come in.")
        forms(read, 0)
        return
    if read.known_on:
        at = f"{read.known_on.replace(tzinfo=UTC).astimezone().isoformat()}"
        st.markdown("#### You are looking back: papers made here are of the newest figures.")
        st.markdown(f"`musterbook rollup --week {week} --known-on {at}` makes those of then, byte for byte.")
        return
    manifest = manifest_of(read)
    st.markdown(f"#### {state(read, manifest, week)}")
    make(read, week)
    if manifest:
        papers_made(read, manifest, week)
    else:
        st.caption("Tables, workbook, statements, letters and ledger are made together, whole or not at all.")
    for_organisation(read, week)
    look(read, manifest, week)
    forms(read, week)
    st.caption(
        "Nothing is sent from here: letters are drafts that you open, change and send yourself. Codes stand for young "
        "people; send each statement to its own troop only."
    )


show()
