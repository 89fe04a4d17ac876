"""`musterbook outlook` and `musterbook plan`: what will still sell, what to order, who gives what to whom."""

from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, Json, known_troop, open_book, say, say_json, week
from pipelines.messages.before_season import delivery_lines, opening_sentence, proposed
from pipelines.messages.looking_ahead import outlook_sentence, plan_lines
from pipelines.store.book import Book

OfWeek = Annotated[
    str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
]


def register(app: typer.Typer) -> None:
    app.command("outlook")(outlook)
    app.command("plan")(plan)


def outlook(
    troop: Annotated[str, typer.Argument(metavar="[TROOP]", help="One troop, by item; without it, all of them.")] = "",
    of_week: OfWeek = "",
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Say what will probably still go out by the season's end, with the range that holds 8 times of 10."""
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        rows = shown.figures.rows("outlook", as_of)
        known_troop(troop, shown.standing, "outlook")
    rows = [row for row in rows if (row["troop"] == troop if troop else not row["item"])]
    if as_json:
        say_json([{name: row[name] for name in ("troop", "item", "mean", "low", "high", "on_hand", "word")}
                  for row in rows])  # fmt: skip
        return
    if not rows:
        say("Nothing can be said yet: no week was sent, and nothing is known of a season before.")
    for row in rows:
        say(outlook_sentence(row, f"{opened.season().season.last_day:%-d %B}"))


def plan(
    of_week: OfWeek = "",
    before_season: Annotated[
        bool, typer.Option("--before-season", help="Judge the opening orders and lay out the day of delivery.")
    ] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Propose who gives what to whom, and which cases to fetch from the depot; nothing is posted by it."""
    if before_season:
        _before_season(open_book(book), as_json=as_json)
        return
    from pipelines.reports.looking_ahead import plan_of, short_of  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        rows, short = plan_of(shown), short_of(shown)
    if as_json:
        say_json(rows)
        return
    for line in plan_lines(rows, short):
        say(line)


def _before_season(book: Book, *, as_json: bool) -> None:
    """The opening orders in sentences, cases by item, loads and slots."""
    from pipelines.reports.before_season import day_of, load_rows, pick_rows  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415

    with week_of(book, latest_day(book)) as shown:
        orders, made = shown.figures.rows("opening"), day_of(shown)
        room = shown.figures.vehicles()
    if as_json:
        say_json({"opening": orders, "loads": load_rows(made), "picks": pick_rows(made)})
        return
    say(opening_sentence(orders))
    for row in orders:
        say(f"{row['troop']}: {row['word']}. {row['reason']}{proposed(row)}")
    for line in delivery_lines(made, bool(room)):
        say(line)
    for row in load_rows(made):
        say(f"{row['vehicle']}, door {row['door']}, {row['slot']}: troop {row['troop']}, {row['cases']} cases")
