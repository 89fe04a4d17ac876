"""`musterbook outlook` and `musterbook plan`: what will still sell, what to order, who gives what to whom."""

from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, open_book, say, say_json, week
from pipelines.definitions.errors import Stop

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
        if troop and troop not in shown.standing:
            raise Stop(f"There is no troop {troop} in this book. Without a troop, `outlook` lists them all.")
    rows = [row for row in rows if (row["troop"] == troop if troop else not row["item"])]
    if as_json:
        say_json([{name: row[name] for name in ("troop", "item", "mean", "low", "high", "on_hand", "word")}
                  for row in rows])  # fmt: skip
        return
    if not rows:
        say("Nothing can be said yet: no week was sent, and nothing is known of a season before.")
    for row in rows:
        say(sentence(row, f"{opened.season().season.last_day:%-d %B}"))


def sentence(row: dict[str, Any], last_day: str) -> str:
    """One row of the outlook as it is said."""
    of = f" of {row['item']}" if row["item"] else ""
    who = f"Troop {row['troop']}" if row["troop"] else "The area"
    return (
        f"{who} will probably sell about {row['mean']:,.0f} more packages{of} by {last_day}: in 8 of 10 such cases "
        f"between {row['low']:,.0f} and {row['high']:,.0f}. It has {row['on_hand']:,} on hand: {row['word']}."
    )


def plan(of_week: OfWeek = "", book: BookDir = HERE, as_json: Json = False) -> None:
    """Propose who gives what to whom, and which cases to fetch from the depot; nothing is posted by it."""
    from pipelines.reports.looking_ahead import plan_of  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415

    opened = open_book(book)
    as_of = week(opened.season(), of_week) if of_week else latest_day(opened)
    with week_of(opened, as_of) as shown:
        rows = plan_of(shown)
    if as_json:
        say_json(rows)
        return
    for line in told(rows):
        say(line)


def told(rows: list[dict[str, Any]]) -> list[str]:
    """The plan in sentences: first all of it in one, then a line a move and a fetch."""
    moves = [row for row in rows if row["kind"] == "move"]
    fetched = [row for row in rows if row["kind"] == "fetch"]
    back = [row for row in rows if row["kind"] == "hand back"]
    if not rows:
        return ["Nothing needs to be moved or fetched."]
    proven = "proven best" if all(row["is_proven"] for row in rows) else "good, not proven best"
    lines = [
        f"{len(moves):,} moves on {len({row['drive'] for row in moves}):,} drives bring "
        f"{sum(row['packages'] for row in moves):,} packages; then {sum(row['cases'] for row in fetched):,} cases are "
        f"to be fetched ({proven}). A proposal: both leaders agree to a move, and both report it."
    ]
    lines += [f"{row['giver']} -> {row['receiver']}: {row['packages']} {row['item']}. {row['reason']}" for row in moves]
    lines += [f"{row['troop']}: fetch {row['cases']} cases {row['item']}. {row['reason']}" for row in fetched]
    lines += [f"{row['troop']}: hand back {-row['cases']} cases {row['item']}. {row['reason']}" for row in back]
    return lines
