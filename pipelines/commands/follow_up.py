"""`musterbook follow-up`: what is wrong, whom to call first, and what was promised."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any

import typer

from pipelines.commands import HERE, BookDir, Json, amount_of, open_book, say, say_json, week
from pipelines.definitions.errors import Stop
from pipelines.store.book import Book, operator

SHOWN = 12  # pieces of evidence that a terminal is shown at once


def register(app: typer.Typer) -> None:
    app.command("follow-up")(follow_up)


def follow_up(
    which: Annotated[
        str, typer.Argument(metavar="[TROOP|CODE]", help="A troop, or one exception by the code that the list shows.")
    ] = "",
    of_week: Annotated[
        str, typer.Option("--week", metavar="W", help="A week number or day; the latest unless given.")
    ] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Write a note down.")] = "",
    promise: Annotated[str, typer.Option(metavar="DAY", help="It was promised for this day, such as 2027-03-26.")] = "",
    amount: Annotated[str, typer.Option(metavar="MONEY", help="With --promise: so much; all of it unless given.")] = "",
    settle: Annotated[str, typer.Option(metavar="REASON", help="It is settled, for this reason.")] = "",
    set_aside: Annotated[str, typer.Option("--set-aside", metavar="DAY", help="Not before this day.")] = "",
    reopen: Annotated[
        bool, typer.Option("--reopen", help="Take a promise, a settlement or a setting aside back.")
    ] = False,
    everything: Annotated[bool, typer.Option("--all", help="Show what is settled and set aside too.")] = False,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """List the exceptions, the most pressing troop first; write down notes and promises; settle."""
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.workflow import looking_back  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    given = _given(note, promise, amount, settle, set_aside, reopen=reopen)
    if given:
        _write(opened, which, given)
    stated = week(opened.season(), of_week) if of_week else None
    with looking_back.figures(opened, COORDINATOR, stated) as figures:
        as_of = stated or figures.days()[-1]
        rows = figures.rows("exceptions", as_of)
        history = figures.follow_ups()
        people = figures.facts("troops")
    if as_json:
        say_json([row for row in rows if not which or which in (row["troop"], row["code"])])
    elif which and not any(row["troop"] == which for row in people):
        _say_one(_one(rows, which), history, opened)
    else:
        listed = [row for row in rows if not which or row["troop"] == which]
        _say_list(listed, people, opened, as_of, everything=everything)


def _given(note: str, promise: str, amount: str, settle: str, set_aside: str, *, reopen: bool) -> dict[str, Any]:
    """What is to be written down: its kind, words, day and amount; nothing where only the list is asked for."""
    kinds = [name for name, said in (("promise", promise), ("settle", settle), ("set_aside", set_aside)) if said]
    kinds += ["reopen"] if reopen else []
    if len(kinds) > 1:
        raise Stop("One at a time: --promise, --settle, --set-aside or --reopen.")
    if amount and kinds != ["promise"]:
        raise Stop("--amount goes with --promise.")
    if not kinds and not note:
        return {}
    kind = kinds[0] if kinds else "note"
    day = _day(promise or set_aside) if kind in ("promise", "set_aside") else None
    return {"kind": kind, "words": settle or note, "on_day": day, "amount": amount_of(amount) if amount else None}


def _day(stated: str) -> date:
    try:
        return date.fromisoformat(stated)
    except ValueError:
        raise Stop(f"{stated}: type a day such as 2027-03-26.") from None


def _write(book: Book, which: str, given: dict[str, Any]) -> None:
    from pipelines.figures.viewer import COORDINATOR  # noqa: PLC0415
    from pipelines.follow_up.decisions import DECISIONS, Entry, Key, write  # noqa: PLC0415
    from pipelines.workflow import looking_back  # noqa: PLC0415 - the terminal answers sooner

    if not which:
        raise Stop("Which exception? `musterbook follow-up` lists them with their codes.")
    with looking_back.figures(book, COORDINATOR) as figures:
        as_of = figures.days()[-1]
        row = _one(figures.rows("exceptions", as_of), which)
    key = Key(row["rule"], row["troop"], row["subject"])
    new = write(book, operator(), as_of, [Entry(key, **given)])
    say(f"{row['code']}: {DECISIONS[given['kind']]}." if new else f"{row['code']}: that stands there already.")


def _one(rows: list[dict[str, Any]], which: str) -> dict[str, Any]:
    """The exception that a code, or the beginning of one, or rule/troop/subject names."""
    found = [
        row
        for row in rows
        if (len(which) >= 3 and row["code"].startswith(which.lower()))
        or "/".join((row["rule"], row["troop"], row["subject"])).rstrip("/") == which
    ]
    if not found:
        raise Stop(
            f"There is no troop and no open exception {which}. `musterbook follow-up` lists them with their codes."
        )
    if len(found) > 1:
        raise Stop(f"{which} names {len(found)} exceptions: {', '.join(row['code'] for row in found)}.")
    return found[0]


def _say_list(
    rows: list[dict[str, Any]], people: list[dict[str, Any]], book: Book, as_of: date, *, everything: bool
) -> None:
    """The state in a sentence, whom to call first, then every troop's exceptions, the most pressing first."""
    from pipelines.follow_up.first_calls import by_troop, first_calls, is_open  # noqa: PLC0415 - the terminal answers sooner

    season = book.season()
    waiting = [row for row in rows if is_open(row)]
    new = sum(row["is_new"] for row in waiting)
    troops = len({row["troop"] for row in waiting})
    where = f"{troops:,} troop{'' if troops == 1 else 's'}"
    say(f"As of {as_of.isoformat()}: {len(waiting):,} to follow up in {where}, {new:,} of them new.")
    calls = first_calls(rows, people, season.season.title, as_of)
    if calls:
        say()
        say("Call first:")
    for place, call in enumerate(calls, 1):
        reach = ", ".join(part for part in (call.leader, call.phone, call.email) if part)
        say(f"  {place}. {call.troop}{f' ({reach})' if reach else ''}: {call.reason}")
    for troop, found in by_troop(
        rows if everything else [r for r in rows if r["state"] in ("open", "promised")]
    ).items():
        say()
        say(f"{troop}")
        for row in found:
            say(f"  {row['code']}  {row['severity']:8}{_since(row)}{row['what']}{_state(row)}")


def _since(row: Mapping[str, Any]) -> str:
    return f"{'new' if row['is_new'] else str(row['weeks_open']) + ' weeks':9}"


def _state(row: Mapping[str, Any]) -> str:
    if row["state"] == "open":
        return " (came back)" if row["has_returned"] else ""
    until = f" for {row['until_on']}" if row["state"] == "promised" else f" until {row['until_on']}"
    return f" [{row['state']}{until if row['until_on'] else ''}]"


def _say_one(row: dict[str, Any], history: list[dict[str, Any]], book: Book) -> None:
    """One exception with its evidence and all that was written down about it."""
    from pipelines.definitions.exception_rules import rule  # noqa: PLC0415
    from pipelines.follow_up.decisions import DECISIONS  # noqa: PLC0415 - the terminal answers sooner

    told = rule(row["rule"])
    subject = f" {row['subject']}" if row["subject"] else ""
    say(f"{row['code']}  {told.label}, troop {row['troop']}{subject}{_state(row)}")
    say(f"  {row['what']}")
    say(f"  {row['severity'].capitalize()}. First seen {row['first_seen']}. {row['next_step']}")
    say(f"  What it means: {told.meaning_in(book.season().follow_up)}")
    say("  Evidence:")
    for piece in row["evidence"][:SHOWN]:
        place = " ".join(part for part in (piece["file"], piece["sheet"], piece["cell"]) if part)
        number = piece["amount"] if piece["amount"] is not None else piece["packages"]
        say(f"    {'' if number is None else number!s:>10}  {piece['says']}{f' ({place})' if place else ''}")
    if len(row["evidence"]) > SHOWN:
        say(f"    and {len(row['evidence']) - SHOWN:,} more; --json lists them all")
    say("  Written down:")
    for entry in history:
        if (entry["rule"], entry["troop"], entry["subject"]) == (row["rule"], row["troop"], row["subject"]):
            parts = [entry["amount"], entry["on_day"] and f"for {entry['on_day']}", entry["words"] or None]
            said = " ".join(str(part) for part in parts if part)
            who = f"{entry['written_at']:%Y-%m-%d %H:%M}  {entry['written_by']}"
            say(f"    {who}: {DECISIONS[entry['kind']]}. {said}".rstrip())
