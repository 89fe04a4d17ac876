"""The zip in which a workbook's parts lie, opened without trusting what it says of itself.

Comes in: a file's bytes. Goes out: its parts, each read to its declared size and no further, its checksum compared.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from xml.parsers import expat

from pipelines.intake.files.wire import Unreadable, unreadable

MOST_PARTS = 5_000
WHOLE = "a workbook that is whole"
SAVE_AGAIN = "Open it in a spreadsheet program, save it under a new name, and send that."
DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError, KeyError)


def damaged(what: str) -> Unreadable:
    """What is told of a workbook that is cut short or altered."""
    return unreadable(f"a damaged workbook ({what})", WHOLE, SAVE_AGAIN)


class Parts:
    """A workbook's parts by name."""

    def __init__(self, payload: bytes) -> None:
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(payload))
        except DAMAGE:
            raise damaged("its table of contents is missing; it may be cut short") from None
        entries = self._zip.infolist()
        if len(entries) > MOST_PARTS:
            raise unreadable(f"a workbook of {len(entries):,} parts", f"at most {MOST_PARTS:,}", SAVE_AGAIN)
        # Two parts of one name: readers disagree which of them counts, so neither does.
        folded = {entry.filename.lower().replace("\\", "/").lstrip("/") for entry in entries}
        if len(folded) < len(entries):
            raise damaged("a part of it is there twice")
        if any(entry.flag_bits & 1 for entry in entries):
            raise locked()
        if any(entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for entry in entries):
            raise damaged("packed in a way that spreadsheet programs do not use")
        self._entries = {entry.filename: entry for entry in entries}

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    @property
    def names(self) -> list[str]:
        return list(self._entries)

    def size(self, names: Iterable[str]) -> int:
        """Bytes of these parts together once unpacked, as declared."""
        return sum(self._entries[name].file_size for name in names)

    def read(self, name: str) -> bytes:
        """One part; a size that was declared too small ends as a damaged file, here and not in memory."""
        try:
            return self._zip.read(self._entries[name])
        except DAMAGE:
            raise damaged(f"its part {name} is cut short or altered") from None

    def read_start(self, name: str, count: int) -> bytes:
        """The first bytes of a part, or nothing where there is no such part."""
        if name not in self._entries:
            return b""
        try:
            with self._zip.open(self._entries[name]) as part:
                return part.read(count)
        except DAMAGE:
            raise damaged(f"its part {name} is cut short or altered") from None

    def saved(self, name: str, element: bytes) -> str:
        """When a document was saved last, as an element of the part that tells of it says; "" where none does."""
        try:
            found = re.search(rb"<" + element + rb"[^<>]*>\s*([0-9T:-]{19})", self.read_start(name, 20_000))
        except Unreadable:
            return ""  # it holds no cell: whatever is wrong with it stops nobody
        return found[1].decode() if found else ""


def locked() -> Unreadable:
    """What is told of a workbook that needs a password."""
    return unreadable(
        "a workbook locked with a password",
        "one that opens without",
        "Open it, take the password off (File, then the file's protection or properties), save it, and send that.",
    )


def is_plain_xml(xml: bytes) -> bool:
    """Whether XML is whole, in UTF-8 and without comments, CDATA or a document type: all readers take it alike."""
    encoding = _ENCODING.match(xml)
    if b"<!" in xml or (encoding and encoding[1].lower() not in (b"utf-8", b"us-ascii")):
        return False
    try:
        expat.ParserCreate().Parse(xml, True)
    except expat.ExpatError:
        return False
    return b"\x00" not in xml  # UTF-16


_ENCODING = re.compile(rb"""[^>]{0,80}encoding\s*=\s*["']([^"']*)""")
