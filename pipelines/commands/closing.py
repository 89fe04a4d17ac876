"""`musterbook close`: what is open before the season can end, closing, confirming, opening again, debts handed over."""

from typing import Annotated, Any

import typer

from pipelines.commands import (
    HELD,
    HERE,
    BookDir,
    Json,
    amount_of,
    known_troop,
    open_book,
    say,
    say_aside,
    say_json,
    week,
)
from pipelines.definitions.errors import Stop
from pipelines.store.book import Book, operator

OfWeek = Annotated[
    str, typer.Option("--week", metavar="W", help="A week number of the season, or any date; else the latest week.")
]
CODE = "PARTICIPANT"


def register(app: typer.Typer) -> None:
    app.command("close")(close)


def close(
    troop: Annotated[str, typer.Argument(metavar="[TROOP]", help="One troop; without it, all of them.")] = "",
    of_week: OfWeek = "",
    freeze: Annotated[bool, typer.Option("--freeze", help="Close it: its figures stay as they are known now.")] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help="Close it though something is open.")] = False,
    confirm: Annotated[bool, typer.Option("--confirm", help="The coordinator's confirmation of a close.")] = False,
    reopen: Annotated[str, typer.Option(metavar="REASON", help="Open it again, for this reason.")] = "",
    hand_over: Annotated[str, typer.Option(metavar=CODE, help="Hand a family's debt to the organisation.")] = "",
    accepted: Annotated[str, typer.Option(metavar=CODE, help="The organisation has accepted this debt.")] = "",
    taken_back: Annotated[str, typer.Option(metavar=CODE, help="This debt is the troop's again.")] = "",
    came_in: Annotated[str, typer.Option(metavar=CODE, help="Money came in to the organisation for it.")] = "",
    amount: Annotated[str, typer.Option(help="How much of it.")] = "",
    note: Annotated[str, typer.Option(help="What was agreed, with whom.")] = "",
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """List what is open before the season can end; close a troop or the book, confirm it, open it again.

    Exit status 1: something is still open.
    """
    opened = open_book(book)
    one = (troop,) if troop else ()
    debts = {"hand over": hand_over, "accept": accepted, "take_back": taken_back, "came_in": came_in}
    if asked := [(kind, code) for kind, code in debts.items() if code]:
        if not troop:
            raise Stop("Whose debt? Name the troop before it.")
        for kind, code in asked:
            _debt(opened, kind, troop, code, amount, note)
    elif reopen:
        from pipelines.workflow import closing  # noqa: PLC0415 - the terminal answers sooner

        done = closing.reopen(opened, operator(), one, reopen)
        say(f"Open again: {', '.join(done)}. What came in since counts from now on.")
    elif confirm:
        from pipelines.workflow import closing  # noqa: PLC0415

        done = closing.confirm(opened, operator(), "coordinator", one)
        say(f"Confirmed for the coordinator: {', '.join(done) or 'nothing that was not confirmed before'}.")
    elif freeze:
        _freeze(opened, one, of_week, anyway=anyway)
    else:
        _list(opened, troop, of_week, as_json=as_json)


def _freeze(book: Book, troops: tuple[str, ...], of_week: str, *, anyway: bool) -> None:
    from pipelines.reports.rollup import latest_day  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.workflow import closing  # noqa: PLC0415

    as_of = week(book.season(), of_week) if of_week else latest_day(book)
    done = closing.close(book, operator(), as_of, troops, anyway=anyway, on_wait=say_aside)
    if done.troops:
        say(f"Closed as of {done.as_of} with what has come in by now: {', '.join(done.troops)}.")
        say("The leader and the coordinator confirm it; until then the proceeds are not final.")
        known = f"{done.known_on.isoformat()}+00:00"
        say(f"The same papers, whenever asked: musterbook rollup --week {done.as_of} --known-on {known}")
    if done.before:
        say(f"Closed already, and left as it was: {', '.join(done.before)}.")


def _debt(book: Book, kind: str, troop: str, code: str, amount: str, note: str) -> None:
    from pipelines.follow_up import agreements  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import latest_day  # noqa: PLC0415

    as_of, who = latest_day(book), operator()
    if kind == "hand over":
        new = agreements.hand_over(book, who, troop, code, amount_of(amount), note, as_of)
    else:
        stated = amount_of(amount) if kind == "came_in" else None
        new = agreements.answer_debt(book, who, kind, troop, code, as_of, stated, note)  # type: ignore[arg-type]
    say(f"{code}: written down." if new else f"{code}: that stands there already.")
    say_aside("An amount that is open is no proof of anything. Receipts stay with the leader.")


def _list(book: Book, troop: str, of_week: str, *, as_json: bool) -> None:
    from pipelines.reports.closing import CLOSING  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.reports.rollup import latest_day, week_of  # noqa: PLC0415

    as_of = week(book.season(), of_week) if of_week else latest_day(book)
    with week_of(book, as_of) as shown:
        known_troop(troop, shown.standing, "close")
        rows = shown.figures.rows("closing", as_of, troop or None)
        points = shown.figures.rows("closing_points", as_of, troop or None)
        debts = shown.figures.rows("debts", as_of, troop or None)
        money = shown.money
    if as_json:
        names = ("state", *(name for name in CLOSING if name != "ready"), "to_settle", "pays")
        listed = [{name: row[name] for name in names} for row in rows]
        say_json({"troops": listed, "points": points, "debts": debts})
    else:
        _say(rows, points, debts, money)
        if troop:
            _say_after(book, troop, money)
    if any(row["state"] in ("open", "ready") for row in rows):
        raise typer.Exit(HELD)


def _say(rows: list[dict[str, Any]], points: list[dict[str, Any]], debts: list[dict[str, Any]], money: Any) -> None:
    counted = {state: sum(row["state"] == state for row in rows) for state in ("open", "ready", "closed", "final")}
    say(", ".join(f"{number} {state}" for state, number in counted.items()) + f", of {len(rows)} troops.")
    for row in rows:
        verb = "pays" if row["pays"] >= 0 else "gets"
        say(f"{row['troop']}  {row['state']:<6}  owes {money(row['owed'])}, with the organisation "
            f"{money(row['with_organisation'])}; {verb} {money(abs(row['pays']))} by {row['settle_by']}")  # fmt: skip
        for point in points:
            if point["troop"] == row["troop"]:
                mark = "open" if point["is_needed"] else "also"
                say(f"    {mark}  {point['who']} by {point['by_on']}: {point['what']}")
        for debt in debts:
            if debt["troop"] == row["troop"]:
                came = f", {money(debt['came_in'])} came in since" if debt["came_in"] else ""
                say(f"    debt  {debt['participant']} {money(debt['amount'])}: {debt['state']}{came}")


def _say_after(book: Book, troop: str, money: Any) -> None:
    from pipelines.workflow import closing  # noqa: PLC0415 - the terminal answers sooner

    late = closing.after_close(book, troop).get(troop)
    if late is None:
        return
    if not late.is_as_closed:
        say("    The season's frame was changed since: what counts now is not, to the byte, what was closed.")
    for change in late.changes:
        say(f"    after the close  {change.file}: {change.told(money)}")
    for moved in late.moved:
        say(f"    would move  {moved.measure}: {moved.then} -> {moved.now}")
