"""How do we stand, and what comes next?"""

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import account, dollar_places, explained, own_troop, tables, words
from pipelines.definitions.measures import label
from pipelines.figures.quartiles import Compared, Quartiles

TITLE = "Our standing"
ORDER = 10
ROLES = ("leader",)
FIGURES = ("packages_sold", "owed", "next_due", "cover", "families_owe", "not_banked", "missing", "proceeds")
WEEKS = ("week_no", "packages_sold", "sell_through", "on_hand", "missing", "owed", "families_owe", "not_banked")


def state(row: Row, currency: str) -> str:
    """One sentence of the state, as Markdown."""
    sent = "This week is in" if row["submitted"] else "This week is **not in yet**, or what you sent is held"
    owed = f"the troop owes {words.bold(words.money(row['owed'], currency))}"
    due = ""
    if row["next_due_on"]:
        guess = ", an estimate" if row["next_due_is_estimate"] else ""
        due = (
            f"; {words.bold(words.money(row['next_due'], currency))} will be due on "
            f"{words.bold(words.day(row['next_due_on']))}{guess}: {words.plain(words.cover_said(row))}"
        )
    return f"{sent}; {words.bold(words.number(row['packages_sold']))} packages sold; {owed}{due}."


def next_step(row: Row, currency: str) -> str:
    """The one thing to do next, in words."""
    if not row["submitted"]:
        return "Next: send this week."
    if row["not_banked"] > 0:
        money = words.money(row["not_banked"], currency)
        return f"Next: bank {money} in cash, counted by two adults who are not related."
    if row["families_owe"] > 0:
        return "Next: look who has packages that are not paid for yet, under Our families."
    return "Nothing is open: thank you."


def notes(row: Row, currency: str) -> dict[str, str]:
    """What stands below a figure."""
    due = words.day(row["next_due_on"]) if row["next_due_on"] else "nothing ahead"
    rate = words.money(row["proceeds_rate"], currency)
    return {"next_due": due, "cover": words.cover_said(row), "proceeds": f"{rate} a package; provisional"}


def beside(row: Row, others: dict[Compared, Quartiles]) -> None:
    """Our rates beside the middle half of the other troops; only where none of them can be worked out."""
    st.subheader("Beside the area", anchor=False)
    if not others:
        st.markdown("Fewer than ten other troops have figures yet, or they are too alike: nothing is shown of them.")
        return
    lines = ["| | Ours | Half of the others lie between | In the middle |", "|:--|--:|--:|--:|"]
    for name, one in others.items():
        shown = words.percent if name != "average_per_active" else words.number
        ours = shown(row[name])
        between = f"{shown(one.lower)} and {shown(one.upper)}"
        named = words.plain(label("standing", name))
        lines.append(f"| {named} | {words.bold(ours)} | {words.plain(between)} | {words.plain(shown(one.median))} |")
    st.markdown("\n".join(lines))
    troops = max(one.troops for one in others.values())
    st.caption(f"Of up to {troops} other troops, rounded so that no single one can be told. It is no ranking.")


def show() -> None:
    """The screen."""
    read: Readings = readings.now()
    currency = read.rules()["currency"]
    troop = own_troop.choose(read)
    row = read.row("standing", troop=troop)
    if row is None:
        st.info(words.plain(f"Nothing is known of troop {troop} yet. Your coordinator takes the first figures in."))
        return
    st.markdown(f"#### {state(row, currency)}")
    st.markdown(words.bold(next_step(row, currency)))
    st.page_link("screens/send_week.py", label=":blue[Send this week →]", query_params=tables.address())
    explained.figures([("standing", name) for name in FIGURES], row, notes=notes(row, currency))
    rows = read.weeks("standing", troop)
    dollar_places.show("standing", row, rows, currency, "The troop has no packages yet.")
    beside(row, read.quartiles())
    with st.expander("Week by week"):
        frame = pl.DataFrame(rows, infer_schema_length=None).select(WEEKS)
        tables.table("standing", frame, alt="Our weeks", key="our_weeks", more={"week_no": "Week"})
        explained.columns_made("standing", list(WEEKS[1:]), rows)
    folded = st.expander("Our account, line by line", key="fold_account", on_change="rerun")
    if folded.open:
        with folded:
            account.show(read, troop, currency)


show()
