"""What a person corrected of a proposed mapping, kept beside the mappings until it is confirmed or dropped.

Comes in: a book, a file's SHA-256, what the draft states. Goes out: the same again, whoever asks and however.
"""

import os
import tomllib
from collections.abc import Set
from contextlib import suppress
from pathlib import Path
from typing import Any

import tomli_w

from pipelines.store.book import Book

ABOUT = (
    "# Not in use yet: how a file from elsewhere may be read, as far as somebody has said. `musterbook map` goes on.\n"
)


def path_of(book: Book, sha256: str) -> Path:
    """Where the draft for a file lies, if there is one."""
    return book.mappings / "drafts" / f"{sha256}.toml"


def kept(book: Book, sha256: str) -> dict[str, Any] | None:
    """What a file's draft states; None where there is none, or none that can be read."""
    with suppress(OSError, ValueError):
        stated = tomllib.loads(path_of(book, sha256).read_text(encoding="utf-8"))
        if {"sheet", "row", "lines", "rivals", "mapping"} <= stated.keys():
            return stated
    return None


def keep(book: Book, sha256: str, stated: dict[str, Any]) -> None:
    """Keeps a draft in place of an older one."""
    path = path_of(book, sha256)
    path.parent.mkdir(parents=True, exist_ok=True)
    making = path.with_name(f".{path.name}.{os.getpid()}")
    making.write_text(ABOUT + tomli_w.dumps(stated), encoding="utf-8")
    with suppress(FileNotFoundError):  # somebody confirmed it meanwhile
        making.replace(path)


def drop(book: Book, sha256: str) -> bool:
    """Throws a draft away, and what was left of one half written; whether there was one."""
    path = path_of(book, sha256)
    for left in path.parent.glob(f".{path.name}.*"):
        left.unlink(missing_ok=True)
    with suppress(FileNotFoundError):
        path.unlink()
        return True
    return False


def drop_others(book: Book, waiting: Set[str]) -> None:
    """Throws away the drafts for files that wait no more."""
    for path in (book.mappings / "drafts").glob("*.toml"):
        if path.stem not in waiting:
            drop(book, path.stem)
