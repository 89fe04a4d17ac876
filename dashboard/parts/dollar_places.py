"""Where every dollar is, on the page: now or over the weeks, drawn, in words and as a table.

Comes in: a row of the area's or a troop's standing, and its rows of every week. Goes out: charts on the page.
"""

from collections.abc import Sequence

import streamlit as st

from dashboard.data.snapshots import Row
from dashboard.parts import chart_words, charts, explained, words

NOW, WEEKS = "Now", "Over the weeks"


def show(relation: str, row: Row, weeks: Sequence[Row], currency: str, none: str) -> None:
    """The places of all packages' value; `weeks`: of each week, the oldest first; `none`: said where there is none."""
    st.subheader("Where every dollar is", anchor=False)
    whole = charts.total(row)
    if not whole:
        st.markdown(none)
        return
    st.markdown(f"{words.bold(words.money(whole, currency))} in packages so far.{_to_look_into(row, currency)}")
    shown = st.radio(
        "Where every dollar is", [NOW, WEEKS], horizontal=True, key="dollars", label_visibility="collapsed"
    )
    if shown == WEEKS:
        so_far = [one for one in weeks if one["as_of"] <= row["as_of"] and charts.total(one)]
        st.altair_chart(charts.dollars_by_week(so_far, currency), alt=chart_words.dollars_by_week(so_far, currency))
        st.caption("◆ Packages not accounted for and stalls short or over, as of that week: to look into.")
    else:
        st.altair_chart(charts.dollars(row, currency), alt=chart_words.dollars(row, currency))
    with st.expander("The same as a table"):
        lines = [
            f"| {charts.MARK + ' ' if one['kind'] == charts.LOOK and one['amount'] else ''}{one['place']} | "
            f"{words.plain(words.money(one['amount'], currency))} | {words.percent(one['share'], 1)} |"
            for one in charts.places(row).to_dicts()
        ]
        last = f"| **In all** | {words.bold(words.money(whole, currency))} | |"
        st.markdown("\n".join(["| Place | Amount | Share |", "|:--|--:|--:|", *lines, last]))
    explained.columns_made(relation, [name for name, _kind in charts.PLACES], [row], "places")


def _to_look_into(row: Row, currency: str) -> str:
    """What deserves a look, in words; it is most often a late record."""
    parts = [
        f"{words.bold(words.money(row[name], currency))} {said}"
        for name, said in (("missing_value", "in packages is not accounted for"), ("stall_short", "is short at stalls"))
        if row[name] > 0
    ]
    return f" {charts.MARK} {'; '.join(parts)}: most often a record is late or a figure was mistyped." if parts else ""
