"""What is typed into a troop's week: each value kept as it is typed, and what is kept told to every device.

Comes in: who asks, a troop and a week, and fields as a device typed them, as text. Goes out: what is kept, with its
version, and the fields that another device changed in between. The form on the page asks here (see parts/week_form.py).
"""

import asyncio
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any
from urllib.parse import parse_qs, urlencode

from dashboard.data import readings
from dashboard.data.answer import Answer
from dashboard.data.readings import Readings
from dashboard.data.snapshots import SHELF, Row, book
from dashboard.data.viewers import viewer_of
from pipelines.accounts.accounts import SignIn
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season
from pipelines.figures.figures import Fact
from pipelines.figures.viewer import Viewer
from pipelines.reports.form_facts import newest
from pipelines.workflow import drafts
from pipelines.workflow.drafts import COVER, NAMED_BY, Draft, Typed, columns_of

PATH = "/week"
WEEK = timedelta(weeks=1)
MOST_BYTES = 64 * 1024  # of what a device says at once
MOST_FIELDS, MOST_NAME, MOST_TEXT = 400, 60, 300
NOT_THEIRS = "This is no troop of yours."


def address(troop: str, week_ending: date) -> str:
    """Where a week's form asks and tells."""
    return f"{PATH}?{urlencode({'troop': troop, 'week': week_ending.isoformat()})}"


def begun(read: Readings, troop: str, week_ending: date) -> Draft:
    """What the fields show where no draft is kept: what was sent, else empty rows for all that is known."""
    known = [
        row["participant"]
        for row in read.facts("roster", troop)
        if row["registered_on"] <= week_ending and (row["left_on"] is None or row["left_on"] > week_ending - WEEK)
    ]
    sent = {**readings.sent(troop, week_ending, read), **earlier(read, troop, week_ending)}
    return drafts.prefilled(book().season(), sorted(known), sent)


def earlier(read: Readings, troop: str, week_ending: date) -> dict[str, Any]:
    """What goes on from week to week where the week itself says nothing of it yet: promises and awards."""
    if any(readings.sent(troop, week_ending, read).values()):
        return {}
    found: dict[str, list[Row]] = {}
    facts: tuple[tuple[Fact, tuple[str, ...]], ...] = (
        ("promised", ("participant",)),
        ("awards", ("participant", "award")),
    )
    for fact, by in facts:
        found[fact] = newest(readings.told_until(fact, troop, read), by, week_ending)
    return found


def draft(read: Readings, troop: str, week_ending: date) -> tuple[Draft, bool]:
    """What the fields show, and whether it is a draft that is kept; raises Stop where the troop is not the viewer's."""
    _own(read.viewer, troop)
    store = SHELF.access().store
    found = drafts.kept(store, troop, week_ending)
    if found:
        return found, True
    shown = begun(read, troop, week_ending)
    shown.version = drafts.version(store, troop, week_ending)
    return shown, False


def state(read: Readings, troop: str, week_ending: date) -> dict[str, Any]:
    """What is kept of a week, for the page; raises Stop where the troop is not the viewer's."""
    found, is_kept = draft(read, troop, week_ending)
    return _told(found, is_kept=is_kept)


def keep(read: Readings, troop: str, week_ending: date, typed: Sequence[Typed]) -> dict[str, Any]:
    """Keeps what a device typed; what is kept, and the `others`: fields that hold what this device had not seen.

    What is no field of the form is not kept, and stands among the `others`. Raises Stop where the troop is not the
    viewer's, or the whole is too long.
    """
    _own(read.viewer, troop)
    season, store = book().season(), SHELF.access().store
    fields = [one for one in typed if _is_field(season, one)]
    before = begun(read, troop, week_ending)
    found, others = drafts.change(store, troop, week_ending, fields, before, read.viewer.name)
    others += [replace(one, was="") for one in typed if one not in fields]
    is_kept = drafts.kept(store, troop, week_ending) is not None
    told = _told(found, is_kept=is_kept)
    return told | {"others": [[one.sheet, one.row, one.column, one.was, one.now] for one in others]}


def _told(draft: Draft, *, is_kept: bool) -> dict[str, Any]:
    return {"version": draft.version, "isKept": is_kept, "cover": draft.cover, "sheets": draft.sheets}


def _own(viewer: Viewer, troop: str) -> None:
    if viewer.troops is None or troop not in viewer.troops:
        raise Stop(NOT_THEIRS)


def _is_field(season: Season, one: Typed) -> bool:
    """Whether a field is one that the form has, or a row of it could have."""
    if one.sheet == "cover":
        return one.row == "" and one.column in COVER
    if one.sheet == "stock":
        item = season.codes.get(one.row)
        return bool(item and item.stocked) and one.column in columns_of("stock", season)[1:]
    is_named = 0 < len(one.row) <= MOST_NAME and one.row == one.row.strip()
    is_name = one.column == NAMED_BY.get(one.sheet) and one.now not in ("", one.row)  # a row's name
    return is_named and not is_name and one.sheet in drafts.COLUMNS and one.column in columns_of(one.sheet, season)


async def answer(who: SignIn, query: str, body: bytes | None) -> Answer:
    """The answer to a device: what is kept; with a body, once what it typed is kept. Raises nothing."""
    return await asyncio.to_thread(_answered, viewer_of(who), query, body)


def _answered(viewer: Viewer, query: str, body: bytes | None) -> Answer:
    stated = {name: values[0] for name, values in parse_qs(query).items()}
    try:
        troop, week_ending = stated.get("troop", ""), _week(stated.get("week", ""))
        _own(viewer, troop)
        if body is None and str(drafts.version(SHELF.access().store, troop, week_ending)) == stated.get("version"):
            return _json({"version": int(stated["version"])})
        read = readings.reading_for(viewer)
        if body is None:
            return _json(state(read, troop, week_ending))
        return _json(keep(read, troop, week_ending, _typed(body)))
    except Stop as stop:
        return Answer(404 if str(stop) == NOT_THEIRS else 400, str(stop).encode())


def _week(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise Stop(NOT_THEIRS) from None
    season = book().season()
    if not season.is_week_ending(found) or not season.week_ending(1) <= found <= season.last_dated:
        raise Stop(NOT_THEIRS)
    return found


def _typed(body: bytes) -> list[Typed]:
    """The values that a device says it typed; raises Stop where it says anything else."""
    try:
        listed = json.loads(body)
        found = [Typed(*(_text(part) for part in parts)) for parts in listed]
    except (ValueError, TypeError, RecursionError):
        raise Stop("This is no field of the form.") from None
    if len(found) > MOST_FIELDS:
        raise Stop("These are more fields at once than a form sends.")
    return found


def _text(part: object) -> str:
    """A text as it may be kept: in one line, without what no keyboard types."""
    if not isinstance(part, str):
        raise TypeError
    return "".join(one if one.isprintable() else " " for one in part[:MOST_TEXT])


def _json(told: Mapping[str, Any]) -> Answer:
    return Answer(200, json.dumps(told, ensure_ascii=False).encode(), "application/json")
