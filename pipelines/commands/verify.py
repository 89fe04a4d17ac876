"""`musterbook verify`: the book proved."""

import typer

from pipelines.commands import HELD, HERE, BookDir, Json, open_book, progress, say, say_aside, say_json

SHOWN = 20  # faults of one proof that a terminal is shown


def register(app: typer.Typer) -> None:
    app.command("verify")(verify)


def verify(book: BookDir = HERE, as_json: Json = False) -> None:
    """Prove the book: every file's bytes, every row, every figure, every dollar.

    Exit status 1: something was found. Nobody else can write in the book meanwhile.
    """
    from pipelines.upkeep.proof import prove  # noqa: PLC0415 - the terminal answers sooner

    opened = open_book(book)
    with progress() as tell:
        proofs = prove(opened, progress=tell, on_wait=say_aside)
    found = sum(len(proof.found) for proof in proofs)
    if as_json:
        say_json({"is_proved": not found, "proofs": proofs})
    else:
        for proof in proofs:
            say(f"{'found ' if proof.found else 'proved'}  {proof.name}. {proof.proved}")
            for line in proof.found[:SHOWN]:
                say(f"    mend  {line}")
            if len(proof.found) > SHOWN:
                say(f"    and {len(proof.found) - SHOWN:,} more; --json lists them all")
            for line in proof.told:
                say(f"    note  {line}")
        say(f"To mend: {found:,}." if found else "Nothing found: the book is proved.")
    if found:
        raise typer.Exit(HELD)
