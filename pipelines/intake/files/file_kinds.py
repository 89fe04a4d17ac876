"""What kind of file this is, told by its content and only then by its name.

Comes in: a file's first bytes, for a zip the names in it, and what the file was called. Goes out: one of KINDS, or what
is to be told where it is no spreadsheet at all; a note where name and content differ.
"""

import re
from collections.abc import Collection
from pathlib import PurePosixPath

from pipelines.intake.files.wire import Told, Unreadable, note, unreadable

KINDS = {
    "xlsx": ("an Excel workbook (.xlsx)", {".xlsx", ".xlsm", ".xltx", ".xltm"}),
    "ods": ("an OpenDocument spreadsheet (.ods)", {".ods", ".ots"}),
    "xls": ("an old Excel workbook (.xls)", {".xls", ".xlt"}),
    "parquet": ("a Parquet table", {".parquet", ".pq"}),
    "csv": ("a table of text (.csv)", {".csv", ".tsv", ".tab", ".txt"}),
    "ofx": ("a bank's statement (OFX)", {".ofx", ".qfx"}),
    "camt": ("a bank's statement (camt.053)", {".xml"}),
}
STATEMENTS = ("ofx", "camt")
HEAD_BYTES = 8192
EXPECTED = "a workbook (.xlsx, .ods, .xls), a CSV table or a Parquet table"
AS_WORKBOOK = (
    "Open it in a spreadsheet program, look whether its numbers are right, save it as .xlsx (a new name alone is not "
    "enough), and send that."
)
SAVE_AS = "Open it in the program it was made with, save it as .xlsx, .ods or .csv, and send that."

ZIP = b"PK\x03\x04"
OLE2 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# A bare BIFF stream: what spreadsheet programs wrote before there was OLE2 round it.
BIFF = (b"\x09\x00\x04\x00", b"\x09\x02\x06\x00", b"\x09\x04\x06\x00", b"\x09\x08\x08\x00", b"\x09\x08\x10\x00")
OTHERS = (
    (b"%PDF-", "a PDF"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"II*\x00", "a picture (TIFF)"),
    (b"MM\x00*", "a picture (TIFF)"),
    (b"RIFF", "a picture, a sound or a film"),
    (b"BM", "a picture (BMP)"),
    (b"\x1f\x8b", "a compressed file (gzip)"),
    (b"BZh", "a compressed file (bzip2)"),
    (b"\xfd7zXZ\x00", "a compressed file (xz)"),
    (b"\x28\xb5\x2f\xfd", "a compressed file (zstd)"),
    (b"7z\xbc\xaf\x27\x1c", "a packed folder (7z)"),
    (b"Rar!", "a packed folder (RAR)"),
    (b"PK\x05\x06", "a zip with nothing in it"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90", "a program"),
    (b"SQLite format 3", "a database (SQLite)"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"%!PS", "a printout (PostScript)"),
    (b"PARE", "a Parquet table that is locked with a key"),
    (b"OggS", "a sound or a film"),
    (b"ID3", "a sound"),
)
PAGE = "a web page (HTML)"  # also what many office programs save as .xls
MARKUP = (
    (b"<!doctype html", PAGE),
    (b"<?xml", "an XML document"),
    (b"<workbook", "an XML document"),
    (b"{", "a JSON document"),
    (b"[{", "a JSON document"),
    (b"table\r\n0,1", "a table of an old exchange format (DIF)"),
    (b"table\n0,1", "a table of an old exchange format (DIF)"),
)
# What a page may begin with: any of its elements, in whichever order the program that saved it wrote them.
ELEMENT = re.compile(rb"<(?:html|head|body|meta|title|style|script|table|thead|tbody|tr|td|th|div|span|p|font|center|"
                     rb"h[1-6]|br|base|link|pre|b|i|form|col|colgroup|caption)[\s/>]")  # fmt: skip
SYLK = re.compile(rb"id;p[a-z0-9_. ]*(?:;[ne])*\r?\n(?:p;[pfes]|b;[xyd]|c;[xyk]|o;[a-z]|f;[a-z])")
COMMENT = re.compile(rb"(?:<!--.*?(?:-->|\Z)\s*)+", re.DOTALL)
MAIL_LINE = re.compile(rb"[a-z][a-z0-9-]{1,40}:[ \t]*\S")
MAIL = (b"mime-version:", b"received:", b"return-path:", b"from:", b"date:", b"message-id:", b"delivered-to:",
        b"content-type:", b"subject:", b"x-", b"dkim-signature:", b"arc-seal:")  # fmt: skip
BOMS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")


def kind_of(head: bytes) -> str:
    """The kind that these first bytes tell: one of KINDS, or `zip` where the names in it must be asked too."""
    if not head:
        raise unreadable("an empty file", EXPECTED, "Save it again and send it once more: not a byte of it arrived.")
    if head.startswith(ZIP):
        return "zip"
    if head.startswith(OLE2) or head.startswith(BIFF):
        return "xls"
    if head.startswith(b"PAR1"):
        return "parquet"
    for start, what in OTHERS:
        if head.startswith(start) and not (start == b"BM" and head[:64].isascii() and b"\x00" not in head[:64]):
            raise not_a_spreadsheet(what)
    if head[4:8] == b"ftyp":
        raise not_a_spreadsheet("a picture or a film")
    if b"%PDF-" in head[:1024]:
        raise not_a_spreadsheet("a PDF")
    start = _start(head)
    if statement := _statement_kind(start):
        return statement
    _refuse_markup(start)
    return "csv"


def is_statement(head: bytes) -> bool:
    """Whether these first bytes are those of a bank's statement, of which only chosen lines may be kept."""
    return bool(_statement_kind(_start(head)))


def _start(head: bytes) -> bytes:
    """The first bytes of a text in small letters, without what says how it is written."""
    start = head.replace(b"\x00", b"")
    for bom in BOMS:
        start = start.removeprefix(bom)
    return start.lstrip().lower()


def _statement_kind(start: bytes) -> str:
    if start.startswith((b"ofxheader", b"<ofx>")) or (start.startswith(b"<?") and re.search(rb"<\?ofx\b|<ofx>", start)):
        return "ofx"
    return "camt" if start.startswith(b"<") and (b":camt.053." in start or b"<bktocstmrstmt>" in start) else ""


def _refuse_markup(start: bytes) -> None:
    """Text that is no table: a page, an XML or JSON document, by whatever name."""
    if start.startswith((b"from ", *MAIL)):
        _refuse_mail(start)
    start = COMMENT.sub(b"", start, count=1) if start.startswith(b"<!--") else start
    if b"urn:schemas-microsoft-com:office:spreadsheet" in start:
        raise unreadable("an old workbook saved as XML", EXPECTED, AS_WORKBOOK)
    if (start.startswith(b"<?xml") and b"<html" in start) or ELEMENT.match(start):
        raise unreadable(PAGE, EXPECTED, AS_WORKBOOK)
    if SYLK.match(start):
        raise unreadable("a table of an old exchange format (SYLK)", EXPECTED, AS_WORKBOOK)
    for opening, what in MARKUP:
        if start.startswith(opening):
            raise unreadable(what, EXPECTED, AS_WORKBOOK if what != "a JSON document" else SAVE_AS)


def _refuse_mail(start: bytes) -> None:
    """A mail, or a page saved as one: at least three lines of its head."""
    lines = start.replace(b"\r\n", b"\n").split(b"\n")
    lines = lines[1:] if start.startswith(b"from ") else lines
    head = [line for line in lines[:4] if MAIL_LINE.match(line) or line[:1] in (b" ", b"\t")]
    known = sum(line.startswith(MAIL) for line in lines[:30])
    if len(head) < 2 or known < 3:
        return
    if b"multipart/related" in start or b"content-location:" in start:
        raise unreadable("a web page saved as one file (MHTML)", EXPECTED, AS_WORKBOOK)
    how = "Open the mail, save the file that is attached to it, and send that."
    raise unreadable("a mail", EXPECTED, how)


def not_a_spreadsheet(what: str) -> Unreadable:
    """What is told of a file that is something else."""
    return unreadable(what, EXPECTED, SAVE_AS)


def kind_in_zip(names: Collection[str], mimetype: bytes) -> str:
    """What a zip holds, by the names in it and its `mimetype` entry: `xlsx`, `ods`, another document or `archive`."""
    if mimetype.startswith(b"application/"):
        return "ods" if b"opendocument.spreadsheet" in mimetype else "a document (OpenDocument or e-book)"
    folded = {name.lower() for name in names}
    if "[content_types].xml" not in folded:
        return "a document (iWork)" if any(name.endswith(".iwa") for name in folded) else "archive"
    tops = {name.split("/")[0] for name in folded}
    others = (("word", "a text document (Word)"), ("ppt", "a set of slides"))
    if "xl/workbook.bin" in folded:
        return "a binary Excel workbook (.xlsb)"
    return next((what for top, what in others if top in tops), "xlsx")


def mislabelled(kind: str, name: str) -> list[Told]:
    """A note where a file's name says another kind than its content."""
    ending = PurePosixPath(name.replace("\\", "/")).suffix.lower()
    is_known = any(ending in endings for _, endings in KINDS.values())
    what, endings = KINDS[kind]
    if not is_known or ending in endings:
        return []
    return [note(f"{what}, named {ending}", "a name that fits", "Nothing: it was read as what it is.")]
