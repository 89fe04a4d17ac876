"""A copy of a book in use, and a book from a copy.

Comes in: a book, or a copy. Goes out: one tar file with the SHA-256 of everything in it, or a folder that holds just
that. While a copy is made the one writer waits; readers and sign-ins do not.
"""

import hashlib
import io
import json
import os
import shutil
import sqlite3
import tarfile
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from pipelines.accounts.account_store import NAME as ACCESS
from pipelines.accounts.account_store import Store, fault_of
from pipelines.definitions.errors import Damaged, NotABook, Stop
from pipelines.store.book import Book, made_aside, now

MANIFEST = "contents.json"
BLOCK = 2**20


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy that was made or brought back: where, how many files and bytes, how many not as they landed."""

    path: Path
    files: int
    size: int
    altered: int = 0


def backup(book: Book, to: Path, *, on_wait: Callable[[str], None] = lambda _said: None) -> Copied:
    """Copies a whole book into one tar file, read back and checked; raises Stop where something is there already."""
    if to.exists():
        raise Stop(f"{to} is there already. Choose another name for the copy.")
    making = to.with_name(f".{to.name}.making")
    if fault := fault_of(book.folder):
        raise Damaged(fault)
    try:
        with book.writing(on_wait, purging=True) as con:
            clear_left_over(book)
            aside = _aside(book)
            aside.mkdir(mode=0o700)
            (aside / "where").write_text(str(making.resolve()), encoding="utf-8")
            con.execute("checkpoint")
            listed = dict(_files(book, aside))
            contents = _pack(listed, making)
            shutil.rmtree(aside)
        _check(making)
        making.replace(to)
    finally:
        making.unlink(missing_ok=True)
    altered = sum(contents[name] != path.name for name, path in listed.items() if path.parent.parent == book.landed)
    return Copied(to, len(listed), to.stat().st_size, altered)


def clear_left_over(book: Book) -> None:
    """Removes what a copying that was broken off left: its half-made copy, and what it had set aside."""
    with suppress(OSError):
        Path((_aside(book) / "where").read_text(encoding="utf-8")).unlink()
    shutil.rmtree(_aside(book), ignore_errors=True)


def _aside(book: Book) -> Path:
    return book.folder / ".copying"


def _files(book: Book, aside: Path) -> Iterator[tuple[str, Path]]:
    """What belongs to a book, by its path in it: the current published state only, and a settled copy of access."""
    yield "season.toml", book.season_file
    yield "warehouse.duckdb", book.warehouse_file
    for path in (book.sending, book.sent):  # in this order: letters may be going meanwhile
        with suppress(FileNotFoundError):
            yield path.name, Path(shutil.copy(path, aside / path.name))
    for path in (book.purge_mark, book.mail):
        if path.is_file():
            yield path.name, path
    for folder in (book.landed, book.folder / "mappings", book.out):
        for path in sorted(folder.rglob("*")):
            if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts):
                yield path.relative_to(book.folder).as_posix(), path
    if book.has_snapshot():
        snapshot = book.current_snapshot()
        yield f"published/{snapshot.name}", snapshot
        yield "published/current", book.published / "current"
    if (book.folder / ACCESS).is_file():
        settled = aside / ACCESS
        with closing(sqlite3.connect(book.folder / ACCESS)) as here, closing(sqlite3.connect(settled)) as there:
            here.backup(there)
        yield ACCESS, settled


def _pack(listed: dict[str, Path], to: Path) -> dict[str, str]:
    """Writes a copy; returns what each of its files hashes to."""
    contents = {name: _hash(path) for name, path in listed.items()}
    told = json.dumps({"made_at": now().isoformat(timespec="seconds") + "Z", "files": contents}, indent=1).encode()
    opened = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(opened, "wb") as out, tarfile.open(fileobj=out, mode="w") as tar:
        head = tarfile.TarInfo(MANIFEST)
        head.size = len(told)
        tar.addfile(head, io.BytesIO(told))
        for name, path in listed.items():
            tar.add(path, name, recursive=False)
        out.flush()
        os.fsync(out.fileno())
    return contents


def _hash(path: Path) -> str:
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _check(copy: Path) -> dict[str, str]:
    """What a copy holds, once every byte of it is what its list says; raises NotABook."""
    try:
        with tarfile.open(copy) as tar:
            first = tar.next()
            if first is None or first.name != MANIFEST:
                raise NotABook(f"{copy} is no copy of a book.")
            stated: dict[str, str] = json.loads(_opened(tar, first).read())["files"]
            found: dict[str, str] = {}
            for member in tar:
                if member.name == MANIFEST:
                    continue
                if not member.isfile() or member.name in found:
                    raise NotABook(f"{copy} holds {member.name}, which is no file of a book.")
                found[member.name] = hashlib.file_digest(_opened(tar, member), "sha256").hexdigest()
    except (FileNotFoundError, IsADirectoryError) as fault:
        raise NotABook(f"There is no file {copy}. Type where the copy lies, its name included.") from fault
    except (OSError, tarfile.TarError, ValueError, KeyError) as fault:
        raise NotABook(f"{copy} cannot be read as a copy of a book: {fault}.") from fault
    wrong = sorted(name for name in stated.keys() | found.keys() if stated.get(name) != found.get(name))
    if wrong:
        raise NotABook(
            f"{copy} is damaged: {', '.join(wrong[:5])} {'is' if len(wrong) == 1 else 'are'} not as written."
        )
    return stated


def _opened(tar: tarfile.TarFile, member: tarfile.TarInfo) -> io.BufferedReader:
    opened = tar.extractfile(member)
    if opened is None:
        raise NotABook(f"{member.name} is no file.")
    return opened  # type: ignore[return-value]


def restore(copy: Path, folder: Path) -> Copied:
    """Brings a copy back into a new or empty folder; every sign-in of it ends. Raises Stop or NotABook.

    Everything is checked before anything is written, and again as it lies in the folder.
    """
    with made_aside(folder) as making:
        stated = _check(copy)
        with tarfile.open(copy) as tar:
            tar.extractall(making, filter="data")
        (making / MANIFEST).unlink()
        wrong = [name for name, content in stated.items() if _hash(making / name) != content]
        if wrong:
            raise NotABook(f"{wrong[0]} could not be written as it was. Look at the disk.")
        for part in ("landed", "published", "mappings", "out"):
            (making / part).mkdir(exist_ok=True)
        if (making / ACCESS).is_file():
            with closing(Store(making)) as store:
                with store.writing() as con:
                    con.execute("delete from sign_ins")
                    con.execute("delete from links")
                store.note("this machine", "book restored", copy.name)
    return Copied(folder, len(stated), sum((folder / name).stat().st_size for name in stated))
