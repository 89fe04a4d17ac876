"""Everything about one troop."""

from decimal import Decimal

import polars as pl
import streamlit as st

from dashboard.data import readings
from dashboard.data.readings import Readings
from dashboard.data.snapshots import Row
from dashboard.parts import (
    account,
    calls,
    chart_words,
    charts,
    dollar_places,
    explained,
    outlook,
    tables,
    to_settle,
    what_changed,
    words,
)
from pipelines.follow_up.first_calls import is_open

TITLE = "A troop"
ORDER = 50
GROUP = "Week"
ROLES = ("coordinator",)
KEY = "troop"
WEEKS = ("week", "submitted", "packages_sold", "sell_through", "on_hand", "missing", "owed", "past_due", "families_owe",
         "not_banked", "remitted")  # fmt: skip
ITEMS = ("item", "supplied", "moved_in", "moved_out", "available", "damaged", "handed_out", "stall", "remote",
         "expected_on_hand", "on_hand", "missing", "sell_through", "weeks_of_supply")  # fmt: skip
FAMILIES = ("participant", "packages", "charged", "paid_cash", "paid_card", "paid_online", "settled", "owes",
            "owes_0_7", "owes_8_14", "owes_15_30", "owes_over_30", "overpaid", "paid_ahead")  # fmt: skip
DUES = ("due_on", "asked", "how", "unpaid", "said")
FIGURES = ("packages_sold", "owed", "past_due", "next_due", "cover", "families_owe")
MORE = ("not_banked", "missing", "sell_through", "share", "average_per_active", "proceeds")


def choose(troops: list[str]) -> str | None:
    """The troop that the address names, else the one chosen before; None where it may not be seen or is not there."""
    asked = st.query_params.get(KEY, "")
    if asked in troops:
        st.session_state[KEY] = asked
    elif asked:
        st.warning("There is no such troop here. Choose one from the list.")
        st.session_state.pop(KEY, None)
    elif st.session_state.get(KEY) not in troops:
        st.session_state.pop(KEY, None)
    chosen = st.selectbox(
        "Troop", troops, key=KEY, index=None, placeholder="Choose a troop", width=230, on_change=_keep_in_address,
    )  # fmt: skip
    if chosen and asked != chosen:
        st.query_params[KEY] = chosen
    return chosen


def _keep_in_address() -> None:
    chosen = st.session_state.get(KEY)
    if chosen:
        st.query_params[KEY] = chosen
    elif KEY in st.query_params:
        del st.query_params[KEY]


def state(row: Row, currency: str) -> str:
    """One sentence of the state, as Markdown."""
    sent = "has sent this week" if row["submitted"] else "has **not sent** this week, or what it sent is held"
    parts = [
        f"Troop {words.bold(row['troop'])} {sent}",
        f"{words.bold(words.number(row['packages_sold']))} packages sold",
    ]
    parts.append(f"{words.bold(words.money(row['owed'], currency))} owed in all")
    if row["past_due"] > 0:
        parts.append(f"{words.bold(words.money(row['past_due'], currency))} past due")
    if row["next_due_on"]:
        guess = " (an estimate)" if row["next_due_is_estimate"] else ""
        amount = words.plain(words.money(row["next_due"], currency))
        parts.append(f"next {amount} on {words.bold(words.day(row['next_due_on']))}{guess}, {words.cover_said(row)}")
    return "; ".join(parts) + "."


def people(read: Readings, troop: str) -> None:
    """Who leads the troop and how to reach them."""
    known = read.facts("troops", troop)
    told = (
        [str(known[0][name]) for name in ("level", "leader", "phone", "email") if known[0].get(name)] if known else []
    )
    if told:
        st.markdown(words.plain(" · ".join(told)))


def notes(read: Readings, row: Row, currency: str) -> dict[str, str]:
    """What stands below a figure."""
    counted = any(one["on_hand"] is not None for one in read.rows("items", troop=row["troop"]))
    bank = (
        f"bank balance read for {words.day(row['balance_on'])}" if row["balance_on"] else "from the sale's own records"
    )
    how, collected = "an estimate" if row["next_due_is_estimate"] else "announced", row["being_collected"]
    return {
        "next_due": f"{words.day(row['next_due_on'])}, {how}" if row["next_due_on"] else "nothing ahead",
        "cover": f"{words.cover_said(row)}; {bank}",
        "missing": "counted this week" if counted else "not counted this week",
        "share": words.of(row["registered_taking_part"], row["registered"]),
        "proceeds": f"{words.money(row['proceeds_rate'], currency)} a package; provisional",
        "past_due": f"being collected: {words.money(collected, currency)}" if collected else "",
    }  # fmt: skip


def dues(read: Readings, troop: str) -> None:
    """The due dates of the troop."""
    rows = read.rows("dues", troop=troop)
    if not rows:
        st.markdown("The season names no due date.")
        return
    seen = {row["due_on"]: row for row in read.rows("dues_seen", troop=troop)}
    frame = pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.Series("asked", [_asked(read, row) for row in rows], pl.Decimal(18, 2)),
        pl.Series("how", [_how_known(row) for row in rows]),
        pl.Series("said", [_due_said(row, seen.get(row["due_on"])) for row in rows]),
    )
    config = st.column_config
    tables.table(
        "dues", frame.select(DUES), alt="Due dates", key="troop_dues",
        more={"asked": config.NumberColumn("Asked for", format=tables.MONEY.get(read.rules()["currency"], "%,.2f")),
              "how": config.TextColumn("How known"), "said": config.TextColumn("How it stands")},
    )  # fmt: skip
    standing = read.row("standing", troop=troop)
    if standing:
        owed = words.money(standing["owed"], read.rules()["currency"])
        st.markdown(f"In all {words.bold(owed)} is owed, due or not.")
    explained.columns_made("dues", ["amount", "instalment", "unpaid"], rows)


def _asked(read: Readings, row: Row) -> Decimal | None:
    """What a due date asks for: the announced amount as it was announced, else our estimate."""
    amount: Decimal | None = row["amount"]
    if amount is not None:
        return amount
    standing = read.row("standing", troop=row["troop"])
    if row["is_reached"] or standing is None or row["due_on"] != standing["next_due_on"]:
        instalment: Decimal | None = row["instalment"]
        return instalment
    next_due: Decimal | None = standing["next_due"]
    return next_due


def _how_known(row: Row) -> str:
    return "estimate" if row["is_estimate"] else f"announced on {words.day(row['announced_on'])}"


def _due_said(row: Row, seen: Row | None) -> str:
    """How a due date stands, and where lines of the bank tell of it whether the bank saw it."""
    if not row["is_reached"]:
        return "ahead"
    if not row["unpaid"]:
        said = "paid"
    elif row["is_being_collected"]:
        said = "being collected"
    else:
        said = f"past due for {words.plural(row['days_old'], 'day')}"
    if seen is None:
        return said
    if not seen["is_seen"]:
        return f"{said}; the bank never saw it"
    return f"{said}; the bank saw it on {words.day(seen['seen_on'])}"


def _weeks(read: Readings, troop: str) -> list[Row]:
    return [row for row in read.weeks("standing", troop) if row["as_of"] <= read.as_of]


def sold(read: Readings, troop: str) -> None:
    """What the troop sold in each week."""
    st.subheader("Packages sold in each week", anchor=False)
    rows = _weeks(read, troop)
    st.altair_chart(charts.weekly(rows), alt=chart_words.weekly(rows))


def weeks(read: Readings, troop: str) -> None:
    """The troop's weeks."""
    rows = _weeks(read, troop)
    frame = pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.Series("week", [f"{row['week_no']}, to {words.day(row['as_of'])}" for row in rows]),
        pl.Series("submitted", ["sent" if row["submitted"] else "not sent" for row in rows]),
    )
    config = st.column_config
    tables.table(
        "standing", frame.select(WEEKS), alt="The troop's weeks", key="troop_weeks",
        more={"week": config.TextColumn("Week", pinned=True), "submitted": config.TextColumn("Submission")},
    )  # fmt: skip
    explained.columns_made("standing", list(WEEKS[2:]), rows, "weeks")


def items(read: Readings, troop: str) -> None:
    """The troop's packages."""
    tables.table("items", read.frame("items", troop=troop).select(ITEMS), alt="The troop's items", key="troop_items")
    explained.columns_made("items", list(ITEMS[1:]), read.rows("items", troop=troop))


def families(read: Readings, troop: str) -> None:
    """What each family took, paid and owes."""
    frame = read.frame("families", troop=troop)
    if not frame.height:
        st.markdown("No family has taken packages or sold online yet.")
        return
    st.caption("Participants are codes. What a family owes may still be with its buyers; it is no proof of anything.")
    tables.table(
        "families", frame.select(FAMILIES), alt="The troop's families", key="troop_families", blank=FAMILIES[2:]
    )
    explained.columns_made("families", list(FAMILIES[1:]), read.rows("families", troop=troop))


def evidence(read: Readings, troop: str) -> None:
    """Which files and rows the troop's figures are made from."""
    rows = read.facts("sources", troop)
    if not rows:
        st.markdown("Nothing has come in about this troop yet.")
        return
    st.markdown(
        f"Everything above is made from {words.plural(sum(row['rows_used'] for row in rows), 'row')} in these files."
    )
    config = st.column_config
    shown = pl.DataFrame(
        [{"File": row["name"], "Table": row["table_name"].replace("_", " "), "Sheet": row["sheet"] or "",
          "Rows": row["rows_used"], "First row": row["first_row"], "Last row": row["last_row"],
          "Came in": words.instant(row["landed_at"]), "From": row["sender"]} for row in rows]
    )  # fmt: skip
    st.dataframe(shown, hide_index=True, alt="Files behind the troop's figures", key="troop_sources",
                 column_config={"File": config.TextColumn(pinned=True, width="medium")})  # fmt: skip


def call(read: Readings, troop: str, currency: str) -> None:
    """The troop's exceptions together, so that one call settles them."""
    rows = read.rows("exceptions", troop=troop)
    waiting = [row for row in rows if is_open(row)]
    st.subheader("For one call", anchor=False)
    if not rows:
        st.markdown("Nothing stands out: there is nothing to ask.")
        return
    decided = [row for row in rows if not is_open(row)]
    parts = [f"{words.bold(words.plural(len(waiting), 'thing'))} to follow up" if waiting else "Nothing waits"]
    parts += [f"{len(decided)} promised, set aside or settled"] if decided else []
    st.markdown("; ".join(parts) + ".")
    calls.together(waiting, read, troop, currency)


def statement(read: Readings, troop: str) -> None:
    """The troop's account, line by line."""
    account.show(read, troop, read.rules()["currency"])


def settle(read: Readings, troop: str) -> None:
    """What others saw beside ours."""
    to_settle.show(to_settle.of_troops(read, troop), read.rules()["currency"], key="troop_settle", opens_troop=False)


PARTS = {
    "Weeks": weeks, "Items": items, "Families": families, "Dues": dues, "Account": statement, "To settle": settle,
    "Evidence": evidence, "What changed": what_changed.show,
}  # fmt: skip


def show() -> None:
    """The screen."""
    read = readings.now()
    currency = read.rules()["currency"]
    troops = [row["troop"] for row in read.rows("standing")]
    if not troops:
        st.info("No troop is known yet. Take in the troops list or the roster first.")
        tables.go("submissions", "Take files in")
        return
    troop = choose(troops)
    row = read.row("standing", troop=troop) if troop else None
    if row is None:
        st.markdown("#### Choose a troop: by its code above, or from one of these.")
        tables.ways_to_troops(troops)
        return
    st.markdown(f"#### {state(row, currency)}")
    people(read, row["troop"])
    call(read, row["troop"], currency)
    said = notes(read, row, currency)
    explained.figures([("standing", name) for name in FIGURES], row, notes=said)
    with st.expander("More figures"):
        explained.figures([("standing", name) for name in MORE], row, notes=said)
    left, right = st.columns(2, gap="large")
    with left:
        weeks = read.weeks("standing", row["troop"])
        dollar_places.show("standing", row, weeks, currency, "This troop has no packages yet.")
    with right:
        sold(read, row["troop"])
    outlook.of_troop(read, row["troop"])
    part = st.radio("More about this troop", list(PARTS), key="troop_part", horizontal=True)
    PARTS[part](read, row["troop"])


show()
