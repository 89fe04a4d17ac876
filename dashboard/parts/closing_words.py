"""How a troop's season's end is told, to its leader and to the coordinator alike.

Comes in: rows of follow_up.closing and closing_points, what came in after a close. Goes out: sentences, lines on the
page.
"""

from collections.abc import Callable, Sequence
from decimal import Decimal

import streamlit as st

from dashboard.data.snapshots import Row
from dashboard.parts import words
from pipelines.definitions.measures import label
from pipelines.workflow.closing import AfterClose

STATES = {"open": "not ready", "ready": "ready", "closed": "closed, not yet confirmed by both", "final": "final"}
WHO = {"leader": "The leader", "coordinator": "The coordinator", "organisation": "The organisation"}


def paid(row: Row, money: Callable[[Decimal], str]) -> str:
    """Who pays whom how much by when, in one payment."""
    if not row["pays"]:
        return "Nothing is to be paid."
    by = words.full_day(row["settle_by"])
    so_far = "" if row["close_no"] is not None else ", as it stands"
    if row["pays"] > 0:
        return f"The troop pays the organisation {money(row['pays'])} by {by}{so_far}."
    return f"The organisation pays the troop {money(-row['pays'])} by {by}{so_far}."


def stands(row: Row) -> str:
    """How far it is: closed as of when, confirmed by whom."""
    if row["close_no"] is None:
        return "It is ready to be closed." if row["is_ready"] else "It is not ready."
    said = f"Closed as of {words.full_day(row['closed_as_of'])}; what comes in later changes nothing of it."
    for who, name in (("The leader", row["confirmed_by_leader"]), ("The area", row["confirmed_by_coordinator"])):
        said += f" {who} has {'confirmed it' if name else 'not confirmed it yet'}."
    return said


def points(rows: Sequence[Row]) -> None:
    """What is open, whose it is and by when."""
    if not rows:
        st.success("Nothing is open.")
    for row in rows:
        mark = "" if row["is_needed"] else " This does not hold the closing up."
        st.markdown(f"- {WHO[row['who']]}, by {words.day(row['by_on'])}: {words.plain(row['what'])}{mark}")


def after(late: AfterClose | None, currency: str) -> None:
    """What came in after the close, and the difference that it would make."""
    if late is None or not late.changes:
        st.markdown("Nothing that would change its figures came in after the close.")
    for change in late.changes if late else ():
        told = change.told(lambda amount: words.money(amount, currency))
        st.markdown(f"- {words.plain(change.file)}: {words.plain(told)}.")
    for one in late.moved if late else ():
        if one.measure in ("owed", "credits", "charged", "proceeds", "families_owe", "packages_sold", "missing"):
            then, now = (_shown(value, currency) for value in (one.then, one.now))
            st.markdown(f"- {label('standing', one.measure)} would be {now} in place of {then}.")
    if late and not late.is_as_closed:
        st.warning("The season's frame has changed since: what counts now is not what was closed.")


def _shown(value: object, currency: str) -> str:
    if isinstance(value, Decimal):
        return words.money(value, currency)
    return words.number(value) if isinstance(value, int | float) else str(value)
