"""`musterbook contract`: what may come in, for people and for other programs."""

import json
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import HERE, BookDir, Json, open_book, say, say_json


def register(app: typer.Typer) -> None:
    app.command("contract")(contract)


def contract(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[DIR]", help="Write the page, datapackage.json and schemas/ into it.")
    ] = None,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """Say what may come in: a page to read and Table Schema files, with a book's own items and days."""
    from pipelines.definitions.contract_page import contract_page  # noqa: PLC0415
    from pipelines.definitions.table_schemas import files  # noqa: PLC0415
    from pipelines.store.book import Book  # noqa: PLC0415 - the terminal answers sooner

    # Whoever stands in no book is told the contract of any season.
    season = open_book(book).season() if book != HERE or Book(book).season_file.exists() else None
    if as_json:
        say_json(dict(files(season)))
    elif folder is None:
        say(contract_page(season).rstrip())
    if folder is None:
        return
    (folder / "schemas").mkdir(parents=True, exist_ok=True)
    for name, descriptor in files(season):
        text = json.dumps(descriptor, ensure_ascii=False, indent=2) + "\n"
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "contract.md").write_text(contract_page(season), encoding="utf-8")
    if not as_json:
        say(f"contract.md, datapackage.json and schemas/ in {folder}.")
