"""What did the bank see that we did not, and we that it did not?"""

from collections.abc import Sequence
from typing import Any

import polars as pl
import streamlit as st

from dashboard.data import actions, readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import own_troop, tables, words
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import BULK, MOST_LEADER_MEGABYTES
from pipelines.workflow.bank_statements import Line

TITLE = "Bank"
ORDER = 65
GROUP = "In and out"
ROLES = ("coordinator", "leader")
KINDS = ["ofx", "qfx", "xml", "csv", "txt"]
LINES, TOLD = "bank_lines", "bank_told"
OPEN, EVERY = "What is open", "Every line"
SAID = {
    "matched": "✓ answers the book", "matched together": "✓ answers several together", "card": "✓ card money",
    "open": "open, less than a week", "not reported": "? nobody reported it", "awaited": "the bank's line is awaited",
    "not seen": "? the bank never saw it",
}  # fmt: skip
SETTLED = ("matched", "matched together", "card")


def state(rows: Sequence[Row]) -> str:
    """One sentence of the state, as Markdown."""
    lines = [row for row in rows if row["line"]]
    if not lines:
        return "No line of a bank has come in yet. Fetch a statement from it, and choose below what is the sale's."
    answered = sum(row["state"] in SETTLED for row in lines)
    unknown = sum(row["state"] == "not reported" for row in lines)
    unseen = sum(row["state"] == "not seen" for row in rows)
    parts = [f"{words.bold(words.of(answered, len(lines)))} lines of the bank answer the book"]
    parts.append(f"{words.plural(unknown, 'line')} that nobody reported" if unknown else "nobody has to explain a line")
    parts.append(f"{words.plural(unseen, 'entry', 'entries')} the bank never saw" if unseen else "nothing is unseen")
    return "; ".join(parts) + "."


def told(rows: Sequence[Row], currency: str, *, of_many: bool) -> None:
    """What is open on either side, or every line."""
    kept = st.radio("Show", [OPEN, EVERY], key="bank_kept", horizontal=True, label_visibility="collapsed")
    shown = [row for row in rows if kept == EVERY or row["state"] not in SETTLED]
    if not shown:
        st.success("Nothing is open on either side.")
        return
    shown.sort(key=lambda row: (row["state"] not in ("not reported", "not seen"), row["date"], row["troop"]))
    names = (["Troop"] if of_many else []) + ["Day", "Amount", "How it stands", "Of the bank", "In the book"]
    table = [
        [row["troop"]] * of_many
        + [row["date"], row["amount"], SAID[row["state"]], _of_bank(row), row["answers"] if row["answers"] else ""]
        for row in shown
    ]
    st.dataframe(
        pl.DataFrame(table, schema=names, orient="row"), hide_index=True, alt="Lines of the bank and the book",
        column_config=_columns(currency),
    )  # fmt: skip


def _of_bank(row: Row) -> str:
    return " · ".join(part for part in (row["line"], row["words"]) if part) if row["line"] else ""


def _columns(currency: str) -> dict[str, Any]:
    config = st.column_config
    return {
        "Day": config.DateColumn(format="ddd D MMM"),
        "Amount": config.NumberColumn(format=tables.MONEY.get(currency, "%,.2f")),
        "In the book": config.TextColumn(width="medium"),
        "Of the bank": config.TextColumn(width="medium"),
    }


def choose(troop: str, troops: Sequence[str], currency: str) -> None:
    """A statement's lines are shown first; only what is ticked is kept."""
    st.subheader("Lines out of a statement", anchor=False)
    st.markdown(
        "Fetch a statement from the bank (OFX, QFX, camt.053 or CSV) and look at its lines here. Only those you keep "
        "are taken in; of the others, and of the file, nothing is kept."
    )
    with st.form("statement", clear_on_submit=True):
        most = MOST_LEADER_MEGABYTES if troop else BULK.bank_bytes // 10**6
        given = st.file_uploader("The bank's file", type=KINDS, key="bank_file", max_upload_size=most)
        whose = troop or st.selectbox(
            "Whose account, where the list of troops does not tell", ["", *troops], key="bank_troop", width=330
        )
        if st.form_submit_button("Show its lines") and given:
            try:
                st.session_state[LINES] = actions.bank_lines(bytes(given.getbuffer()), given.name, whose or "")
                st.session_state.pop(TOLD, None)
            except Stop as stop:
                st.session_state.pop(LINES, None)
                st.warning(words.plain(str(stop)))
    if said := st.session_state.get(TOLD):
        st.success(said)
    if lines := st.session_state.get(LINES):
        _tick(lines, currency)


def _tick(lines: Sequence[Line], currency: str) -> None:
    fresh = [one for one in lines if not one.is_kept]
    if len(fresh) < len(lines):
        st.caption(f"{words.plural(len(lines) - len(fresh), 'line')} of it came in before.")
    if not fresh:
        return
    frame = pl.DataFrame(
        [[one.is_the_sales, one.date, one.amount, one.answers, " ".join((one.text, one.reference)).strip(), one.troop]
         for one in fresh],
        schema=["Keep", "Day", "Amount", "In the book", "Of the bank", "Troop"], orient="row",
    )  # fmt: skip
    with st.form("lines"):
        ticked = st.data_editor(
            frame, hide_index=True, disabled=frame.columns[1:], column_config=_columns(currency), key="bank_ticks"
        )
        st.caption("Ticked are those that answer something in the book. Tick what else is the sale's.")
        if st.form_submit_button("Keep these lines", type="primary"):
            chosen = [one for one, keep in zip(fresh, ticked["Keep"].to_list(), strict=True) if keep]
            try:
                kept = actions.keep_bank_lines(chosen)
            except Stop as stop:
                st.warning(words.plain(str(stop)))
                return
            st.session_state.pop(LINES)
            st.session_state[TOLD] = f"{words.plural(kept, 'line')} kept; of the rest nothing."
            st.rerun()


def _whose(read: Readings) -> tuple[str, list[str]]:
    """A leader's troop, or for the coordinator all troops to choose from."""
    if read.viewer.troops is not None:
        return own_troop.choose(read), []
    return "", sorted(row["troop"] for row in read.facts("troops"))


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    troop, troops = _whose(read)
    rows = list(read.rows("bank", troop=troop or None))
    st.markdown(f"#### {state(rows)}")
    if rows:
        told(rows, currency, of_many=not troop)
    if read.known_on is None:
        choose(troop, troops, currency)


show()
