"""What the coordinator does for the book itself: a copy to fetch, a proof, the end of the keeping time.

Comes in: the readings and the last day on which rows are kept. Goes out: three boxes on the page.
"""

from datetime import UTC, date, datetime

import streamlit as st

from dashboard.data import actions, care, downloads
from dashboard.data.readings import Readings
from dashboard.parts import words
from pipelines.definitions.errors import Stop

PROOFS = "book_proofs"
SHOWN = 20  # faults of one proof that a screen is shown
AGAIN = "[Sign in again](/sign-in/again?next=/kept)"


def show(read: Readings, until: date) -> None:
    """A copy, a proof, and what goes when the keeping time is over."""
    st.subheader("A copy of the book", anchor=False)
    copy()
    st.subheader("Is the book whole?", anchor=False)
    prove()
    st.subheader("When the keeping time is over", anchor=False)
    if care.is_purged():
        st.markdown("Participants' rows are gone. Copies of the book hold them still: remove those too.")
    else:
        purge(read, until)


def copy() -> None:
    """The whole book as one file."""
    if actions.may_change_accounts():
        st.markdown(f"[{words.bold('Fetch a copy')}](/fetch/{downloads.BOOK}): all of it in one file, read back first.")
    else:
        st.markdown(f"{AGAIN} to fetch a copy: it holds all that the book holds.")
    st.caption(
        "Keep it as safe as the book. To bring it back, start Musterbook in an empty folder and choose Bring a copy "
        "back; it is read through before anything is written."
    )


def prove() -> None:
    """Goes through every file, row and figure once more, and says what was found."""
    if st.button("Go through the whole book", help="Nobody else can write in it meanwhile."):
        with st.spinner("Going through every file, row and figure"):
            try:
                st.session_state[PROOFS] = care.proofs()
            except Stop as stop:
                st.warning(words.plain(str(stop)))
    found = st.session_state.get(PROOFS)
    if found is None:
        return
    faults = sum(len(one.found) for one in found)
    if faults:
        st.warning(f"{words.plural(faults, 'thing')} to mend; they are named below.")
    else:
        st.success("Nothing is wrong: every figure follows from what came in.")
    lines = []
    for one in found:
        lines.append(f"- {words.bold(one.name)}: {words.plain(one.proved)}")
        lines += [f"    - to mend: {words.plain(fault)}" for fault in one.found[:SHOWN]]
        lines += [f"    - {words.plain(told)}" for told in one.told]
    st.markdown("\n".join(lines))


def purge(read: Readings, until: date) -> None:
    """What goes for good, once somebody has typed the area's name."""
    files = sum(row["files"] for row in read.moments())
    st.markdown(
        f"Participants' rows, leaders' names and numbers, the {words.plural(files, 'file')} that came in, papers and "
        "drafts go for good. The figures of troops and of the area stay, and nothing can be taken in any more."
    )
    is_early = datetime.now(UTC).astimezone().date() <= until
    area = read.rules()["area"]
    if is_early:
        st.markdown(f"They are kept until {words.bold(words.full_day(until))}.")
    if not actions.may_change_accounts():
        st.markdown(f"{AGAIN} to remove them.")
        return
    with st.expander("Remove them now" if not is_early else "Remove them earlier"), st.form("purge", border=False):
        for said in care.open_matters():
            st.markdown(f"- Still open, and lost with it: {words.plain(said)}")
        early = st.checkbox("Before the time, or with what is still open: what is lost then stays lost")
        typed = st.text_input(f"Type the name of the area: {area}")
        pressed = st.form_submit_button("Remove for good")
    if not pressed:
        return
    if typed.strip() != area:
        st.warning("That is not the name of the area. Nothing was removed.")
        return
    try:
        done = care.purge(early=early)
    except Stop as stop:
        st.warning(words.plain(str(stop)))
        return
    st.success(f"{words.plural(done.rows, 'row')} and {words.plural(done.files, 'file')} are gone. Remove copies too.")
