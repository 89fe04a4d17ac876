"""What the coordinator answered about a file: landed like the file itself, so that a rebuild reads it so again.

Comes in: a book, a writer's connection. Goes out: Answers by the file's SHA-256, in the order in which they were said.
"""

import tomllib
from collections.abc import Iterable
from datetime import datetime

from pipelines.landing import landed_rows
from pipelines.landing.landed_rows import Arrival
from pipelines.store.book import Book
from pipelines.store.engine import Connection

Answers = dict[str, tuple[str, ...]]


def land(book: Book, con: Connection, of_file: tuple[str, str], word: str, at: datetime, sender: str) -> None:
    """Lands one answer about a file (its SHA-256 and its name)."""
    sha256, name = of_file
    payload = f'file = "{sha256}"\nanswer = "{word}"\n'.encode()
    digest, _path = book.land(payload)
    file_no = landed_rows.last_landed(con)[0] + 1
    said = f"{word}: {name}"
    landed_rows.land_files(con, [Arrival(file_no, digest, said, len(payload), at, sender, "answer")])


def landed(book: Book, con: Connection) -> Answers:
    """All that was answered so far."""
    done = con.execute("select sha256 from landed.files where what = 'answer' order by file_no").fetchall()
    return as_landed(book, (row[0] for row in done))


def as_landed(book: Book, digests: Iterable[str]) -> Answers:
    """What these landed answers say, in this order."""
    answers: Answers = {}
    for digest in digests:
        stated = tomllib.loads(book.landed_path(digest).read_text(encoding="utf-8"))
        answers[stated["file"]] = (*answers.get(stated["file"], ()), stated["answer"])
    return answers
