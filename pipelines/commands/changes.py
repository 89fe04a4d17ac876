"""`musterbook changes`: what changed since a time, and why: which file, which rows, by how much."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, instant, open_book, say, say_json, week

MAIN = ("packages_sold", "owed", "past_due", "next_due", "families_owe", "not_banked", "missing")


def register(app: typer.Typer) -> None:
    app.command("changes")(changes)


def changes(
    since: Annotated[
        str, typer.Option("--since", metavar="TIME", help="A time such as 2027-03-16T20:00, or a day: its end.")
    ],
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="In the figures of this week; else of the latest.")
    ] = "",
    troop: Annotated[str, typer.Option("--troop", metavar="CODE", help="Of one troop.")] = "",
    rows: Annotated[bool, typer.Option("--rows", help="Each row that is new or counts no longer.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show what changed in the figures since a time, and why: which file, which rows, by how much."""
    from pipelines.definitions.errors import Stop  # noqa: PLC0415
    from pipelines.figures.changes import changes as changed_between  # noqa: PLC0415
    from pipelines.figures.changes import moved_measures  # noqa: PLC0415
    from pipelines.figures.figures import Figures  # noqa: PLC0415
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.reports.rollup import latest_day  # noqa: PLC0415
    from pipelines.workflow import looking_back  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    at = instant(since, "--since")
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with looking_back.looked_back(opened, at, as_of) as then, looking_back.figures(opened, COORDINATOR, as_of) as now:
        if troop and not now.facts("troops", troop):
            raise Stop(f"There is no troop {troop} here. `musterbook standing` lists the troops.")
        before = Figures(then, COORDINATOR)
        found = changed_between(before, now, as_of, troop or None)
        moved = moved_measures(before, now, as_of, troop or None)
    if as_json:
        say_json({"since": at, "as_of": as_of, "changes": found, "measures": moved})
        return
    if not found and not moved:
        say(f"Nothing changed since {_local(at)} in the figures as of {as_of}.")
        return
    say(f"Since {_local(at)}, in the figures as of {as_of}:")
    for code in sorted({one.troop for one in found} | {one.troop for one in moved}):
        say()
        for line in _lines(code, found, moved, is_whole=bool(troop), with_rows=rows):
            say(line)


def _lines(troop: str, found: list[Any], moved: list[Any], *, is_whole: bool, with_rows: bool) -> Iterator[str]:
    """What changed of one troop: its figures, then what changed them."""
    yield f"Troop {troop}"
    for one in moved:
        if one.troop == troop and (is_whole or one.measure in MAIN):
            yield f"  {one.measure}: {_shown(one.then)} before, {_shown(one.now)} now"
    for change in found:
        if change.troop != troop:
            continue
        place = f", in place of {change.in_place_of}" if change.in_place_of else ""
        landed = f", came in {_local(change.landed_at)}" if change.landed_at else ""
        yield f"  {change.table_name}, {change.on_day}: {change.sentence}"
        yield f"      {change.file}{landed}{place}"
        if with_rows:
            yield from (f"      {_row(line)}" for line in change.lines)


def _row(line: Any) -> str:
    """A row: whether it is new, what it says, where it stands."""
    parts = [line.what.lower(), line.about]
    parts += [f"{line.packages:,} packages"] if line.packages is not None else []
    parts += [f"{line.amount:,.2f}"] if line.amount is not None else []
    where = " ".join(part for part in (line.file, line.sheet, f"row {line.row_no}") if part)
    return f"{'new' if line.is_new else 'no longer'}: {' '.join(part for part in parts if part)} ({where})"


def _shown(value: Any) -> str:
    if value is None:
        return "no value"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4f}"
    return str(value) if not isinstance(value, int) else f"{value:,}"


def _local(at: datetime) -> str:
    """A time by this machine's clock."""
    return f"{at.replace(tzinfo=UTC).astimezone():%Y-%m-%d %H:%M}"
