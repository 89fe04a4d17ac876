"""`musterbook stalls`: who stands where when, which places pay, and the draw of free slots."""

from pathlib import Path
from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, known_troop, open_book, say, say_aside, say_json, week
from pipelines.definitions.errors import Stop
from pipelines.store.book import Book, operator


def register(app: typer.Typer) -> None:
    app.command("stalls")(stalls)


def stalls(
    troop: Annotated[str, typer.Argument(metavar="[TROOP]", help="One troop; without it, all of them.")] = "",
    number: Annotated[
        int | None, typer.Option("--draw", metavar="N", help="Draw the free slots by this number; shown, not kept.")
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the draw: its slots are the troops' from now on.")] = False,
    ics: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the calendar as iCalendar.")] = None,
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
    ] = "",
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Show who stands where when and which places pay; draw the free slots among those who wished for them."""
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    if keep and number is None:
        raise Stop("--keep goes with --draw N.")
    if number is not None:
        _draw(opened, as_of, number, troop, keep=keep, as_json=as_json)
        return
    with week_of(opened, as_of) as shown:
        known_troop(troop, shown.standing, "stalls")
        rows = shown.figures.stalls.calendar(as_of)
        yields = [row for row in shown.figures.rows("place_yields", as_of) if row["packages_an_hour"] is not None]
        if ics is not None:
            from pipelines.reports.stall_calendar import calendar  # noqa: PLC0415

            ics.write_bytes(calendar(shown, rows, troop))
            say_aside(f"{ics}: written.")
        money = shown.money
    rows = [row for row in rows if not troop or row["troop"] == troop]
    if as_json:
        say_json({"slots": rows, "places": yields})
        return
    if not rows:
        say("No slots are known. They come as a table `slots`, with their `places`.")
    for row in rows:
        say(f"{row['date']} {row['start']:%H:%M}-{row['until']:%H:%M}  {row['slot']}  {row['title']}: {told(row)}")
    for row in yields:
        say(f"{row['place']} {row['part_of_day'] or 'all day'}: {row['packages_an_hour']:.1f} packages and "
            f"{money(round(row['takings_an_hour'], 2))} an hour, the middle of {row['timed']} stalls")  # fmt: skip


def told(row: dict[str, Any]) -> str:
    """Whose a slot is, or how it stands."""
    if row["state"] == "given":
        return f"troop {row['troop']}" + ("" if row["is_permitted"] else ", and no permission for that day")
    return "free" if row["state"] == "open" else str(row["state"]).replace("_", " ")


def _draw(book: Book, as_of: Any, number: int, troop: str, *, keep: bool, as_json: bool) -> None:
    from pipelines.figures.figures import Figures  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.figures.stall_draw import spread  # noqa: PLC0415
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.follow_up import stalls as agreed  # noqa: PLC0415

    with book.reading() as con:
        figures = Figures(con, COORDINATOR)
        if as_of not in figures.days():
            raise Stop(f"Nothing is published as of {as_of}: a draw goes by a week's end.")
        known_troop(troop, {row["troop"] for row in figures.facts("troops")}, "stalls")
        wishes = agreed.wishes_of(figures)
        done = agreed.drawn(figures, as_of, number)
    if keep:
        agreed.keep_draw(book, operator(), number, as_of)
    values = {code: done.value_of(code) for code in done.order}
    even = spread(list(values.values()))
    if as_json:
        say_json({"number": number, "order": done.order, "given": list(done.given), "values": values, "gini": even})
        return
    for code in (troop,) if troop else done.order:
        say(f"{code}: worth {values.get(code, 0):.2f} usual slots")
        for rank, (slot, why) in enumerate(zip(wishes.get(code, []), agreed.reasons(done, wishes.get(code, []), code),
                                               strict=True), 1):  # fmt: skip
            say(f"    wish {rank}  {slot}: {why}")
    if even is not None:
        low, high = min(values.values()), max(values.values())
        say(f"{len(done.given)} slots to {len(values)} troops, each between {low:.2f} and {high:.2f} usual slots; "
            f"unevenness (Gini) {even:.2f}, 0 would be all alike.")  # fmt: skip
    say("Kept: these slots are the troops' from now on." if keep else "Nothing was kept; --keep keeps it.")
