"""To settle at the week's end: the count, the bank balance and the organisation's figure, each beside ours.

Comes in: rows of ledger.against_the_world. Goes out: a sentence, a table of what differs, each explained.
"""

from collections.abc import Sequence

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.snapshots import Row
from dashboard.parts import explanations, tables, words

ABOUT = {"count": "Count", "bank": "Bank balance read", "organisation": "The organisation's figure"}
ORDER = tuple(ABOUT)


def state(rows: Sequence[Row]) -> str:
    """How many of what others saw agree with ours, as Markdown."""
    if not rows:
        return "Nothing was counted, no balance was read, and the organisation gave no figure to set beside ours."
    off = [row for row in rows if row["difference"]]
    parts = [
        words.plural(number, one, many)
        for about, one, many in (
            ("count", "count", "counts"), ("bank", "bank balance", "bank balances"),
            ("organisation", "figure of the organisation", "figures of the organisation"),
        )
        if (number := sum(row["about"] == about for row in off))
    ]  # fmt: skip
    agree = f"{words.of(len(rows) - len(off), len(rows))} agree with ours"
    return f"{words.bold(agree)}{f'; to settle: {words.listed(parts)}' if parts else ''}."


def show(rows: Sequence[Row], currency: str, *, key: str, opens_troop: bool) -> None:
    """What differs, amounts of the organisation and the bank first, then counts; each with its explanation."""
    st.markdown(state(rows))
    off = [row for row in rows if row["difference"]]
    if not off:
        return
    off.sort(key=lambda row: (-ORDER.index(row["about"]), -abs(row["difference"]), row["troop"], row["item"]))
    why = explanations.likeliest(readings.now())
    frame = pl.DataFrame(
        [(row["troop"], _what(row), row["on_day"], *_figures(row, currency), _capital(_why(row, why)))
         for row in off],
        schema={"troop": pl.String, "What": pl.String, "Of": pl.Date, "Ours": pl.String, "Theirs": pl.String,
                "Difference": pl.String, "Likeliest explanation": pl.String},
        orient="row",
    )  # fmt: skip
    config = st.column_config
    more = {
        "What": config.TextColumn("What was looked at", width=170),
        "Of": config.DateColumn("For the day", format="ddd D MMM"),
        "Ours": config.TextColumn("By our figures", alignment="right"),
        "Theirs": config.TextColumn("As seen", help="Counted, read at the bank, or in the organisation's own books.",
                                    alignment="right"),
        "Difference": config.TextColumn("Difference", help="As seen, less ours.", alignment="right"),
        "Likeliest explanation": config.TextColumn(width="large"),
    }  # fmt: skip
    shown = frame if opens_troop else frame.drop("troop")
    tables.table("standing", shown, alt="To settle", key=key, opens_troop=opens_troop, more=more)
    st.caption("An explanation is the likeliest, not the only one. A difference is no proof of wrongdoing.")


def of_troops(read: readings.Readings, troop: str | None = None) -> tuple[Row, ...]:
    """What others saw beside ours on the day chosen, of one troop or of all."""
    return read.rows("against_the_world", troop=troop)


def _what(row: Row) -> str:
    return f"{ABOUT[row['about']]}{' of ' if row['item'] else ''}{row['item']}"


def _figures(row: Row, currency: str) -> tuple[str, str, str]:
    numbers = (row["ours"], row["theirs"], row["difference"])
    if row["about"] == "count":
        ours, theirs, difference = (words.number(number) for number in numbers)
    else:
        ours, theirs, difference = (words.money(number, currency) for number in numbers)
    return ours, theirs, f"{'+' if row['difference'] > 0 else ''}{difference}"


def _why(row: Row, why: dict[explanations.Key, str]) -> str:
    return why.get((row["troop"], row["about"], row["item"])) or str(row["explanation"] or "")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
