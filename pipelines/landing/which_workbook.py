"""Several workbooks of one troop and week that came together: the one saved later counts, where that is plain.

Comes in: workbooks that were read. Goes out: their order, in which the later saved one comes last; a note that says so;
where it is not plain, a finding on each that asks which one counts, with what differs.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

from pipelines.definitions.asked import WHICH, said
from pipelines.definitions.columns import fold
from pipelines.definitions.records import Finding, Sheet
from pipelines.intake.files.wire import column_letters
from pipelines.intake.judging.judge import judge_day, text_of
from pipelines.intake.judging.workbooks import cover_values
from pipelines.landing.landed_rows import Placed
from pipelines.store import engine
from pipelines.store.engine import Connection

if TYPE_CHECKING:
    from pipelines.landing.alike import Said
    from pipelines.landing.arrivals import Opened

APART = timedelta(minutes=1)  # between two savings, from which on the later one is plain
MOST_SHOWN = 3  # cells that differ


def put_in_order(opened: "list[Opened]") -> "list[Opened]":
    """Puts the workbook saved later behind the others of its troop and week; returns those of which only the file's own
    time tells it, which the bytes that land do not hold."""
    together: dict[tuple[str, date], list[int]] = defaultdict(list)
    for place, one in enumerate(opened):
        if one.what == "submission" and (whose := _whose(one.reading.sheets)):
            together[whose].append(place)
    told_by_file = []
    for places in together.values():
        if len(places) < 2:
            continue
        group = [opened[place] for place in places]
        last, is_by_file = _saved_last(group)
        if last is None:
            continue
        group.sort(key=lambda one: one is last)
        for place, one in zip(places, group, strict=True):
            opened[place] = one
        if is_by_file:
            told_by_file.append(last)
    return told_by_file


def _whose(sheets: Sequence[Sheet]) -> tuple[str, date] | None:
    values = cover_values(sheets)
    troop, week = text_of(values.get("troop")), judge_day(values.get("week_ending"))
    return (troop.lstrip("0"), week) if troop and isinstance(week, date) else None


def _saved_last(group: "Sequence[Opened]") -> "tuple[Opened | None, bool]":
    """The workbook that was plainly saved last, by its own word; by the file's time only where some say nothing."""
    own = [one.reading.saved_at for one in group]
    is_by_file = None in own or len({one.tzinfo for one in own if one}) > 1
    times = [one.saved_at for one in group] if is_by_file else own
    known = sorted(time for time in times if time)
    if len(known) < len(group) or known[-1] - known[-2] < APART:
        return None, is_by_file
    return group[times.index(known[-1])], is_by_file


def ask(
    con: Connection, workbooks: "Sequence[Opened]", of_file: dict[int, tuple[Any, Any]], answered: "Said"
) -> Iterator[Placed]:
    """What is told of workbooks of one troop and week that came together."""
    for group in _together(con, {one.file_no: one for one in workbooks}, of_file):
        told = [one for one in group if said(answered(one.file_no), WHICH)]
        last = told[-1] if told else _saved_last(group)[0]
        if last is None and _differences(group[0], group[-1])[0] == 0:
            last = group[-1]
        if last is not None:
            names = " and ".join(one.name for one in group if one is not last)
            how = "This one was saved later, so it counts; the other is kept and counts nowhere."
            found = f"another workbook of this troop and week in the same batch: {names}"
            yield Placed(last.file_no, "", "", Finding("", "", found, "one of them", how, is_note=True))
            continue
        for one in group:
            for other in (other for other in group if other is not one):
                yield Placed(one.file_no, "", "", _asked(one, other))


def _together(
    con: Connection, workbooks: "dict[int, Opened]", of_file: dict[int, tuple[Any, Any]]
) -> "Iterator[list[Opened]]":
    """Workbooks of one troop and week that landed at one time and wait together."""
    if len(workbooks) < 2:
        return
    query = "select file_no, landed_at from landed.files where list_contains(?::integer[], file_no) order by file_no"
    groups: dict[tuple[Any, ...], list[Opened]] = defaultdict(list)
    for row in engine.rows(con, query, [list(workbooks)]):
        troop, week = of_file.get(row["file_no"], (None, None))
        if troop and week:
            groups[row["landed_at"], troop, week].append(workbooks[row["file_no"]])
    yield from (group for group in groups.values() if len(group) > 1)


def _asked(one: "Opened", other: "Opened") -> Finding:
    count, shown = _differences(one, other)
    more = f" and {count - len(shown):,} more cells" if count > len(shown) else ""
    found = f"another workbook of this troop and week in the same batch, {other.name}; {'; '.join(shown)}{more}"
    return Finding("", "", found, WHICH.expected, WHICH.how)


def _differences(one: "Opened", other: "Opened") -> tuple[int, list[str]]:
    """How many cells of two workbooks differ, and the first of them in words."""
    theirs = {fold(sheet.name): sheet.rows or [] for sheet in other.reading.sheets}
    count, shown = 0, []
    for sheet in one.reading.sheets:
        rows = theirs.pop(fold(sheet.name), [])
        for row_no, (here, there) in enumerate(zip_longest(sheet.rows or [], rows), 1):
            for place, (a, b) in enumerate(zip_longest(here or [], there or [])):
                if a != b:
                    count += 1
                    where = f"{sheet.name}, {column_letters(place)}{row_no}"
                    shown.append(f"{where}: {text_of(a) or 'empty'} here, {text_of(b) or 'empty'} there")
    for name, rows in theirs.items():
        if rows:
            count += 1
            shown.append(f"the sheet {name.capitalize()} there alone")
    return count, shown[:MOST_SHOWN]


def saved_at(seconds: float | None) -> datetime | None:
    """A file's own time of last change."""
    return None if seconds is None else datetime.fromtimestamp(seconds)  # noqa: DTZ006 - held against its like alone
