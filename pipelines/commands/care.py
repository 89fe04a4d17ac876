"""`musterbook backup`, `restore` and `purge`: a copy while in use, back again, and what is kept no longer."""

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import HELD, HERE, BookDir, open_book, progress, say, say_aside
from pipelines.definitions.errors import Stop
from pipelines.store.book import operator


def register(app: typer.Typer) -> None:
    app.command("backup")(backup)
    app.command("restore")(restore)
    app.command("purge")(purge)


def backup(
    to: Annotated[
        Path | None, typer.Argument(help="The copy's file; beside the book, named by the day, unless given.")
    ] = None,
    book: BookDir = HERE,
) -> None:
    """Copy the whole book into one file, while it is in use."""
    from pipelines.upkeep import copies  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    folder = opened.folder.resolve()
    where = to or folder.with_name(f"{folder.name} {datetime.now(UTC).astimezone():%Y-%m-%d %H%M}.book.tar")
    done = copies.backup(opened, where, on_wait=say_aside)
    say(f"{done.path}: {done.files:,} files, {done.size / 2**20:,.1f} MB, read back and checked.")
    say("It holds what the book holds, participants' rows and codes' hashes too: keep it as safe, and no longer.")
    if done.altered:
        say(f"{done.altered:,} of its landed files are not as they landed. Keep an older copy too.")
        say("`musterbook verify` says which.")
        raise typer.Exit(HELD)


def restore(
    copy: Annotated[Path, typer.Argument(help="A copy that `musterbook backup` made.")],
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")],
) -> None:
    """Bring a copy back into a new folder, and prove the book."""
    from pipelines.upkeep import copies  # noqa: PLC0415
    from pipelines.upkeep.proof import prove  # noqa: PLC0415

    done = copies.restore(copy, folder)
    say(f"{done.path}: {done.files:,} files, each as it was copied.")
    say("Every sign-in has ended; codes work as they did then.")
    if (folder / "mail.toml").is_file():
        say("Letters that went after this copy was made are not written down in it: look before you send.")
    with progress() as tell:
        found = [line for proof in prove(open_book(folder), progress=tell) for line in proof.found]
    for line in found:
        say(f"    mend  {line}")
    say(f"To mend: {len(found):,}." if found else "Nothing found: the book is proved.")
    if found:
        raise typer.Exit(HELD)


def purge(
    book: BookDir = HERE,
    early: Annotated[
        bool, typer.Option("--early", help="Before the keeping time has ended, or all is closed.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
) -> None:
    """Remove participants' rows, landed files and papers for good when the keeping time has ended; the totals stay."""
    from pipelines.upkeep import retention  # noqa: PLC0415
    from pipelines.workflow import closing  # noqa: PLC0415

    opened = open_book(book)
    until = retention.keep_until(opened)
    today = _today()
    if today <= until and not early:
        raise Stop(f"Participants' rows are kept until {until.isoformat()}, as season.toml says under [care].")
    for said in closing.unfinished(opened) if early and opened.has_snapshot() else ():
        say(f"Lost with it: {said}")
    if not yes and not typer.confirm("Participants' rows, landed files and papers go for good. Go on?"):
        raise Stop("Nothing was removed.")
    done = retention.purge(opened, operator(), today, early=early, on_wait=say_aside)
    say(f"{done.rows:,} rows and {done.files:,} files are gone; {len(done.tables)} tables of totals stay as they were.")
    say("Copies of the book hold them still: remove those too, and what was sent or printed.")


def _today() -> date:
    return datetime.now(UTC).astimezone().date()
