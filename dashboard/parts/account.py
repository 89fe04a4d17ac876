"""A statement of account, line by line: a troop's with the organisation, or a family's with its troop.

Comes in: lines of ledger.statement_lines. Goes out: a table whose last balance is what is owed.
"""

from collections.abc import Sequence

import polars as pl
import streamlit as st

from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import tables, words
from pipelines.definitions.measures import label

ORGANISATION = ""  # the party of lines between a troop and the organisation
AGES = ("past_due_0_7", "past_due_8_14", "past_due_15_30", "past_due_over_30")
OWES = ("owes_0_7", "owes_8_14", "owes_15_30", "owes_over_30")
COLUMNS = ("on_day", "what", "reference", "packages", "charged", "credited", "balance")


def show(read: Readings, troop: str, currency: str) -> None:
    """The account of a troop or of one of its families, up to the week chosen."""
    lines = read.statement_lines(troop)
    if not lines:
        st.markdown("There is nothing on this account yet.")
        return
    parties = sorted({row["party"] for row in lines if row["party"]}, key=lambda party: (party == "troop", party))
    party = st.selectbox(
        "Whose account", [ORGANISATION, *parties], key=f"account_{troop}", width=300, format_func=_named,
    )  # fmt: skip
    mine = [row for row in lines if row["party"] == party]
    if not mine:
        st.markdown("There is nothing on this account yet.")
        return
    st.markdown(summed(mine, currency))
    _ages(read, troop, party, currency)
    _table(mine, currency)
    st.caption("Each line's balance is the one before, plus what is charged, less what is credited.")


def _named(party: str) -> str:
    if party == ORGANISATION:
        return "The troop's, with the organisation"
    return "The troop's own page" if party == "troop" else f"{party}'s, with the troop"


def summed(lines: Sequence[Row], currency: str) -> str:
    """The sum of all lines in a sentence, as Markdown."""
    charged, credited = (sum(row[name] for row in lines) for name in ("charged", "credited"))
    left = charged - credited
    owed = f"{words.bold(words.money(left, currency))} owed" if left >= 0 else (
        f"{words.bold(words.money(-left, currency))} paid ahead or too much"
    )  # fmt: skip
    return (
        f"{words.plain(words.money(charged, currency))} charged, less {words.plain(words.money(credited, currency))} "
        f"credited: {owed}, in {words.plural(len(lines), 'line')}."
    )


def _ages(read: Readings, troop: str, party: str, currency: str) -> None:
    """How old what is open is."""
    if party == ORGANISATION:
        row, names, told = read.row("standing", troop=troop), AGES, "Past due"
    else:
        row = next((one for one in read.rows("families", troop=troop) if one["participant"] == party), None)
        names, told = OWES, "Owed, by the age of its week"
    if row is None or not any(row[name] for name in names):
        st.markdown(f"{told}: nothing.")
        return
    relation = "standing" if party == ORGANISATION else "families"
    parts = [
        f"{label(relation, name).lower()} {words.bold(words.money(row[name], currency))}" for name in names if row[name]
    ]
    st.markdown(f"{told}: {', '.join(parts)}.")


def _table(lines: Sequence[Row], currency: str) -> None:
    """The lines, each with the balance after it."""
    told = [{name: row[name] for name in COLUMNS} for row in lines]
    frame = pl.DataFrame(told, infer_schema_length=None).with_columns(
        pl.when(pl.col(name) != 0).then(pl.col(name)).alias(name) for name in ("packages", "charged", "credited")
    )
    style = tables.MONEY.get(currency, "%,.2f")
    config = st.column_config
    st.dataframe(
        frame, hide_index=True, alt="Statement of account", key="account_lines", placeholder="",
        height="content" if frame.height <= tables.MOST_ROWS else tables.ROW_PIXELS * tables.MOST_ROWS,
        column_config={
            "on_day": config.DateColumn("Day", format="ddd D MMM", pinned=True),
            "what": config.TextColumn("What", width="medium"),
            "reference": config.TextColumn("Reference"),
            "packages": config.NumberColumn("Packages", format="localized"),
            "charged": config.NumberColumn("Charged", format=style),
            "credited": config.NumberColumn("Credited", format=style),
            "balance": config.NumberColumn("Balance", format=style),
        },
    )  # fmt: skip
