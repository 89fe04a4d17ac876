"""The bytes of a text → UTF-8, whatever it was written in.

Comes in: a file's bytes. Goes out: the same text in UTF-8, and a note where the encoding had to be guessed.
"""

import codecs
import re
import unicodedata

from pipelines.definitions.limits import MOST_MARKS
from pipelines.intake.files.file_kinds import not_a_spreadsheet
from pipelines.intake.files.wire import Told, Unreadable, note, unreadable

CONTROL = re.compile(rb"[\x01-\x08\x0b\x0e-\x1f]")
MULTIBYTE = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
HIGH = re.compile(rb"[\x80-\xff]+")
AS_UTF8 = "Save it as CSV in UTF-8, and send that."


def as_utf8(payload: bytes) -> tuple[bytes, list[Told]]:
    """A text in UTF-8 without its byte order mark; raises Unreadable where it is no text."""
    utf16 = _utf16(payload)
    if utf16:
        try:
            payload = payload.decode(utf16).encode()
        except UnicodeError:
            found = "text in UTF-16 that is cut short or damaged"
            raise unreadable(found, "text that is whole", AS_UTF8) from None
    payload = payload.removeprefix(codecs.BOM_UTF8).rstrip(b"\x1a")  # which is how DOS programs end a text
    if len(CONTROL.findall(payload[:65_536])) > 1 + len(payload[:65_536]) // 100:
        raise not_a_spreadsheet("a file that is neither text nor a workbook")
    if b"\x00" in payload:
        raise nul(payload)
    if not payload.strip():
        raise unreadable("a text of nothing but spaces", "a header and rows", "Fill it in, save it, and send it again.")
    return _decoded(payload)


def _decoded(payload: bytes) -> tuple[bytes, list[Told]]:
    try:
        payload.decode("utf-8")
    except UnicodeDecodeError as error:
        return _cp1252(payload, error.start)
    return payload, []


def _utf16(payload: bytes) -> str:
    """The codec where a byte order mark says UTF-16, or where nearly every other byte of the beginning is zero."""
    if payload.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    head = payload[:4096]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if odd * 10 > len(head) * 4 and not even:
        return "utf-16-le"
    if even * 10 > len(head) * 4 and not odd:
        return "utf-16-be"
    return ""


def _cp1252(payload: bytes, first: int) -> tuple[bytes, list[Told]]:
    """Text that is no UTF-8, as Windows wrote it before; a UTF-8 text with a damaged place is not taken for it."""
    good = len(MULTIBYTE.findall(payload))
    bad = len(HIGH.findall(MULTIBYTE.sub(b"", payload)))
    place = f"A{line_of(payload, first)}"
    if good > bad:
        found = "a character that is damaged, in a text that is otherwise UTF-8"
        raise unreadable(found, "text that is whole", "Export it once more, and send that.", cell=place)
    try:
        text = payload.decode("cp1252")
    except UnicodeDecodeError as error:
        found = "characters in an encoding that cannot be told"
        raise unreadable(found, "text in UTF-8", AS_UTF8, cell=f"A{line_of(payload, error.start)}") from None
    how = f"Look at names with accents; where one looks wrong: {AS_UTF8[0].lower()}{AS_UTF8[1:]}"
    return text.encode(), [note("text in an older Windows encoding (cp1252)", "text in UTF-8", how, cell=place)]


def line_of(body: bytes, position: int) -> int:
    """The line on which a byte stands, counted from 1."""
    return body.count(b"\n", 0, position) + 1


def nul(body: bytes) -> Unreadable:
    """What is told of zero bytes, which no table holds."""
    count, line = body.count(b"\x00"), line_of(body, body.index(b"\x00"))
    if count * 4 > len(body):
        return not_a_spreadsheet("a file that is neither text nor a workbook")
    found = f"{count:,} NUL bytes (invisible, of value zero)" if count > 1 else "a NUL byte (invisible, of value zero)"
    how = "The file was damaged or written by a faulty program: export it once more, and send that."
    return unreadable(found, "text", how, cell=f"A{line}")


def composed(text: str) -> str:
    """A text in the composed form (NFC); one that no language writes, whose marks take long to sort, as it is."""
    if len(text) > MOST_MARKS:
        run = 0
        for mark in text:
            run = run + 1 if unicodedata.combining(mark) else 0
            if run > MOST_MARKS:
                return text
    return unicodedata.normalize("NFC", text)


def narrowed(text: str) -> str:
    """Full-width marks and every kind of space as plain ones; nothing else is folded: `5²` is no 52."""
    if text.isascii():
        return text
    return "".join(
        " " if mark.isspace() else unicodedata.normalize("NFKC", mark) if "\uff00" <= mark <= "\uffef" else mark
        for mark in text
    )
