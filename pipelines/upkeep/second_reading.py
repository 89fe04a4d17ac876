"""What landed taken in a second time, from its bytes alone: to prove a book, or to make its warehouse anew.

Comes in: the landed files in the order they landed, an empty warehouse. Goes out: the same rows, units and findings as
the first time, at the same times.
"""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from pipelines.definitions.season import Season, read_season
from pipelines.landing import arrivals, kept_answers, kept_mappings, landed_rows
from pipelines.landing.arrivals import Progress, Rules
from pipelines.landing.landed_rows import Arrival
from pipelines.store import engine
from pipelines.store.book import Book
from pipelines.store.engine import Connection
from pipelines.workflow import take_in

NOT_TABLES = ("season", "mapping", "answer")  # landed files that are rules, not rows


def take_in_again(book: Book, con: Connection, files: Sequence[dict[str, Any]], progress: Progress) -> None:
    """Takes landed files into another warehouse, in the order and at the times they landed."""
    season = book.season()
    of_mappings: dict[str, str] = {}
    said: list[str] = []
    opened = {file["file_no"]: _opened(book, file) for file in files if file["what"] not in NOT_TABLES}
    arrivals.read(list(opened.values()), lambda _what, done, of: progress("Reading again", done, of))
    for at, together in groupby(files, key=lambda file: file["landed_at"]):
        batch = {file["file_no"]: file for file in together}
        rules = [file for file in batch.values() if file["what"] == "season"]
        for file in rules:
            season = _season_of(book, file)
        changed = {file["name"]: file["sha256"] for file in batch.values() if file["what"] == "mapping"}
        of_mappings |= changed
        heard = [file["sha256"] for file in batch.values() if file["what"] == "answer"]
        said += heard
        by = Rules(
            season, kept_mappings.as_landed(book, of_mappings.items()), answers=kept_answers.as_landed(book, said)
        )
        for number in batch.keys() & opened.keys():
            opened[number].file_no = number
        arrivals.translate([opened[number] for number in sorted(batch.keys() & opened.keys())], by)
        with engine.transaction(con):
            landed_rows.land_files(con, [Arrival(**file) for file in batch.values()])
            arrived = [opened[number] for number in sorted(batch.keys() & opened.keys())]
            take_in.take_in(book, con, by, arrived, at, rules_changed=bool(rules or changed or heard))


def _season_of(book: Book, file: dict[str, Any]) -> Season:
    return read_season(book.landed_path(file["sha256"]).read_text(encoding="utf-8-sig"))


def _opened(book: Book, file: dict[str, Any]) -> arrivals.Opened:
    path = book.landed_path(file["sha256"])
    return arrivals.Opened(file["name"], file["sha256"], file["size_bytes"], path, file["file_no"])
