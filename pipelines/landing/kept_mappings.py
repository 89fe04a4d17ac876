"""The mappings of a book: what its folder `mappings/` states, landed at every change like season.toml.

Comes in: a book, a writer's connection. Goes out: the Mappings that hold, and whether they changed.
"""

from collections.abc import Iterable
from datetime import datetime

from pipelines.definitions.errors import BrokenMapping
from pipelines.intake.elsewhere.mapping import Mapping, Mappings, read_mapping, without_clashes
from pipelines.landing import landed_rows
from pipelines.landing.landed_rows import Arrival
from pipelines.store.book import Book
from pipelines.store.engine import Connection

TAKEN_OUT = b"# This mapping was taken out.\n"


def stated(book: Book) -> dict[str, bytes]:
    """The files in the book's mappings/, by name."""
    return {path.name: path.read_bytes() for path in sorted(book.mappings.glob("*.toml")) if path.is_file()}


def holding(files: dict[str, bytes]) -> Mappings:
    """The mappings that these files state; raises BrokenMapping naming every fault by its key."""
    named: dict[str, Mapping] = {}
    for name, payload in files.items():
        try:
            one = read_mapping(payload.decode("utf-8-sig"), f"mappings/{name}")
        except UnicodeDecodeError as fault:
            raise BrokenMapping(f"mappings/{name} is not UTF-8 text: save it as UTF-8.") from fault
        if one:
            named[name] = one
    return without_clashes(named)


def land(book: Book, con: Connection, files: dict[str, bytes], at: datetime, sender: str) -> bool:
    """Lands every mapping that changed, and that one was taken out; whether anything changed."""
    query = (
        "select name, sha256 from landed.files where what = 'mapping' "
        "qualify row_number() over (partition by name order by file_no desc) = 1"
    )
    before: dict[str, str] = dict(con.execute(query).fetchall())
    gone = {name: TAKEN_OUT for name in before if name not in files}
    changed = False
    for name, payload in {**files, **gone}.items():
        digest, _path = book.land(payload)
        if before.get(name) == digest:
            continue
        file_no = landed_rows.last_landed(con)[0] + 1
        landed_rows.land_files(con, [Arrival(file_no, digest, name, len(payload), at, sender, "mapping")])
        changed = True
    return changed


def as_landed(book: Book, files: Iterable[tuple[str, str]]) -> Mappings:
    """The mappings that hold once these files (name, SHA-256) have landed in this order."""
    return holding({name: book.landed_path(sha256).read_bytes() for name, sha256 in dict(files).items()})
