"""Ways in which a good file is damaged by chance, each by its name.

Comes in: a file's bytes and dice. Goes out: WAYS. `is_told`: whoever reads the damaged file can tell, or reads the
same totals. The other ways leave a sound file that says something else (a digit altered in a text without a checksum,
a row taken out of a table): nobody can tell it from what was meant, and it must only be read in time.

.xlsx, .ods and Parquet pages carry checksums, .xls and CSV none.
"""

import io
import re
import struct
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from made_files import with_lying_size

Dice = Random
Alter = Callable[[bytes, Dice], bytes]
ZIPS = ("xlsx", "ods")
CHECKED = (*ZIPS, "parquet")  # kinds whose content carries checksums
ALL = (*CHECKED, "xls", "csv")


@dataclass(frozen=True)
class Way:
    """One way of damage: to which kinds of file, how, and for which of them it can be told."""

    kinds: tuple[str, ...]
    alter: Alter
    told_of: tuple[str, ...]


WAYS: dict[str, Way] = {}


def way(name: str, kinds: tuple[str, ...], told_of: tuple[str, ...] | None = None) -> Callable[[Alter], Alter]:
    def keep(alter: Alter) -> Alter:
        WAYS[name] = Way(kinds, alter, kinds if told_of is None else told_of)
        return alter

    return keep


# Bytes, as a disk, a cable or a mail program damages them


def stretch(payload: bytes, dice: Dice, most: int = 600) -> tuple[int, int]:
    start = dice.randrange(len(payload))
    return start, min(len(payload), start + dice.randint(1, most))


@way("bytes altered", ALL, CHECKED)
def bytes_altered(payload: bytes, dice: Dice) -> bytes:
    changed = bytearray(payload)
    for _ in range(dice.choice([1, 1, 3])):
        changed[dice.randrange(len(changed))] = dice.randrange(256)
    return bytes(changed)


@way("bits turned", ALL, CHECKED)
def bits_turned(payload: bytes, dice: Dice) -> bytes:
    changed = bytearray(payload)
    for _ in range(dice.choice([1, 2])):
        changed[dice.randrange(len(changed))] ^= 1 << dice.randrange(8)
    return bytes(changed)


@way("a stretch zeroed", ALL, (*CHECKED, "csv"))
def stretch_zeroed(payload: bytes, dice: Dice) -> bytes:
    start, end = stretch(payload, dice)
    return payload[:start] + bytes(end - start) + payload[end:]


@way("a stretch lost", ALL, CHECKED)
def stretch_lost(payload: bytes, dice: Dice) -> bytes:
    start, end = stretch(payload, dice)
    return payload[:start] + payload[end:]


@way("a stretch doubled", ALL, CHECKED)
def stretch_doubled(payload: bytes, dice: Dice) -> bytes:
    start, end = stretch(payload, dice)
    return payload[:end] + payload[start:]


@way("two stretches swapped", ALL, CHECKED)
def stretches_swapped(payload: bytes, dice: Dice) -> bytes:
    a, b, c, d = sorted(dice.randrange(len(payload)) for _ in range(4))
    return payload[:a] + payload[c:d] + payload[b:c] + payload[a:b] + payload[d:]


@way("cut short", (*CHECKED, "xls"))
def cut_short(payload: bytes, dice: Dice) -> bytes:
    return payload[: dice.randrange(len(payload))]


@way("first bytes lost", (*CHECKED, "xls"))
def first_bytes_lost(payload: bytes, dice: Dice) -> bytes:
    return payload[dice.randint(1, 2000) :]


@way("rubbish behind", ALL)
def rubbish_behind(payload: bytes, dice: Dice) -> bytes:
    return payload + dice.choice([bytes(300), dice.randbytes(300), b"\r\n-- \r\nSent from my telephone\r\n"])


@way("rubbish before", ALL)
def rubbish_before(payload: bytes, dice: Dice) -> bytes:
    return dice.choice([bytes(30), dice.randbytes(30), b"HTTP/1.1 200 OK\r\nContent-Length: 12\r\n\r\n"]) + payload


@way("sent as text", ALL)
def sent_as_text(payload: bytes, dice: Dice) -> bytes:
    turns: list[Callable[[bytes], bytes]] = [
        lambda one: one.replace(b"\n", b"\r\n"),
        lambda one: one.replace(b"\r\n", b"\n") + b"\n",
        lambda one: one.decode("utf-8", "replace").encode(),
        lambda one: one.decode("latin-1").encode(),
        lambda one: bytes(byte & 0x7F for byte in one),
    ]
    return dice.choice(turns)(payload)


# The zip round a workbook's parts; checksums are made anew, as a program would that writes nonsense


def parts_of(payload: bytes) -> list[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(payload)) as packed:
        return [(name, packed.read(name)) for name in packed.namelist()]


def packed(parts: list[tuple[str, bytes]]) -> bytes:
    """A zip of these parts; a name may stand twice in it."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts:
            entry = zipfile.ZipInfo(name)
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            file.NameToInfo.pop(name, None)  # else it warns of a name that is there twice
            file.writestr(entry, content)
    return held.getvalue()


@way("a part lost", ZIPS)
def part_lost(payload: bytes, dice: Dice) -> bytes:
    parts = parts_of(payload)
    parts.pop(dice.randrange(len(parts)))
    return packed(parts)


@way("a part emptied or cut", ZIPS)
def part_cut(payload: bytes, dice: Dice) -> bytes:
    parts = parts_of(payload)
    at = dice.randrange(len(parts))
    name, content = parts[at]
    parts[at] = (name, content[: dice.choice([0, dice.randrange(len(content) + 1)])])
    return packed(parts)


@way("a part twice", ZIPS)
def part_twice(payload: bytes, dice: Dice) -> bytes:
    parts = parts_of(payload)
    name, content = dice.choice(parts)
    parts.insert(dice.randrange(len(parts) + 1), (name, dice.choice([content, content[: len(content) // 2]])))
    return packed(parts)


@way("a part renamed", ZIPS)
def part_renamed(payload: bytes, dice: Dice) -> bytes:
    parts = parts_of(payload)
    at = dice.randrange(len(parts))
    name, content = parts[at]
    parts[at] = (dice.choice([name.upper(), f"{name}.bak", name.replace("/", "\\"), f"x/{name}", name[:-1]]), content)
    return packed(parts)


@way("two parts swapped", ZIPS)
def parts_swapped(payload: bytes, dice: Dice) -> bytes:
    parts = parts_of(payload)
    a, b = dice.sample(range(len(parts)), 2)
    parts[a], parts[b] = (parts[a][0], parts[b][1]), (parts[b][0], parts[a][1])
    return packed(parts)


@way("a part's size misstated", ZIPS)
def size_misstated(payload: bytes, dice: Dice) -> bytes:
    with zipfile.ZipFile(io.BytesIO(payload)) as file:
        entry = dice.choice(file.infolist())
    claimed = dice.choice([0, 1, entry.file_size // 2, entry.file_size + 1, entry.file_size * 9])
    return with_lying_size(payload, entry.filename, claimed)


@way("the zip's table of contents damaged", ZIPS)
def contents_damaged(payload: bytes, dice: Dice) -> bytes:
    changed = bytearray(payload)
    start = payload.rindex(b"PK\x05\x06")
    first = struct.unpack_from("<I", payload, start + 16)[0]
    for _ in range(dice.choice([1, 1, 4])):
        changed[dice.randrange(first, len(changed))] ^= 1 << dice.randrange(8)
    return bytes(changed)


# The XML within; the zip is sound


TAG = re.compile(rb"<[^<>]+>")
XLSX_CELL = re.compile(rb"<c [^<>]*/>|<c [^<>]*[^/]>.*?</c>", re.DOTALL)
XLSX_ROW = re.compile(rb"<row [^<>]*[^/]>.*?</row>", re.DOTALL)
ATTRIBUTE = re.compile(rb' [\w:]+="[^"<>]*"')


def in_xml(edit: Callable[[bytes, Dice], bytes], only: str = "") -> Alter:
    """An edit of one part of XML, chosen by chance; `only`: a part whose name holds this."""

    def alter(payload: bytes, dice: Dice) -> bytes:
        parts = parts_of(payload)
        those = [at for at, (name, part) in enumerate(parts) if only in name and part.lstrip()[:1] == b"<"]
        at = dice.choice(those)
        name, part = parts[at]
        parts[at] = (name, edit(part, dice))
        return packed(parts)

    return alter


def without_one(pattern: re.Pattern[bytes]) -> Callable[[bytes, Dice], bytes]:
    def edit(part: bytes, dice: Dice) -> bytes:
        found = list(pattern.finditer(part))
        if not found:
            return part
        one = dice.choice(found)
        return part[: one.start()] + part[one.end() :]

    return edit


def with_one_twice(pattern: re.Pattern[bytes]) -> Callable[[bytes, Dice], bytes]:
    def edit(part: bytes, dice: Dice) -> bytes:
        found = list(pattern.finditer(part))
        if not found:
            return part
        one = dice.choice(found)
        return part[: one.end()] + one[0] + part[one.end() :]

    return edit


def with_two_swapped(pattern: re.Pattern[bytes]) -> Callable[[bytes, Dice], bytes]:
    def edit(part: bytes, dice: Dice) -> bytes:
        found = list(pattern.finditer(part))
        if len(found) < 2:
            return part
        a, b = sorted(dice.sample(found, 2), key=lambda one: one.start())
        return part[: a.start()] + b[0] + part[a.end() : b.start()] + a[0] + part[b.end() :]

    return edit


def with_another_type(part: bytes, dice: Dice) -> bytes:
    kinds = [b"s", b"str", b"b", b"e", b"n", b"d", b"inlineStr", b"x"]
    found = list(re.finditer(rb'(<c [^<>]*t=")(\w+)"', part))
    if not found:
        return part
    one = dice.choice(found)
    return part[: one.start(2)] + dice.choice(kinds) + part[one.end(2) :]


WAYS["a tag lost, .xlsx"] = Way(("xlsx",), in_xml(without_one(TAG)), ("xlsx",))
WAYS["a tag lost, .ods"] = Way(("ods",), in_xml(without_one(TAG)), ())  # cells without a name: what follows moves up
WAYS["a tag twice"] = Way(("xlsx",), in_xml(with_one_twice(TAG)), ("xlsx",))
WAYS["an attribute lost, .xlsx"] = Way(("xlsx",), in_xml(without_one(ATTRIBUTE)), ("xlsx",))
WAYS["an attribute lost, .ods"] = Way(("ods",), in_xml(without_one(ATTRIBUTE)), ())  # how often a cell is repeated
WAYS["a cell twice in one place"] = Way(("xlsx",), in_xml(with_one_twice(XLSX_CELL), "sheet"), ("xlsx",))
WAYS["a row twice in one place"] = Way(("xlsx",), in_xml(with_one_twice(XLSX_ROW), "sheet"), ("xlsx",))
WAYS["rows or cells in another order"] = Way(
    ("xlsx",),
    lambda payload, dice: in_xml(with_two_swapped(dice.choice([XLSX_ROW, XLSX_CELL])), "sheet")(payload, dice),
    ("xlsx",),
)
WAYS["a cell of another type"] = Way(("xlsx",), in_xml(with_another_type, "sheet"), ("xlsx",))
WAYS["a cell or row lost"] = Way(
    ("xlsx",), lambda payload, dice: in_xml(without_one(dice.choice([XLSX_ROW, XLSX_CELL])), "sheet")(payload, dice), ()
)
WAYS["characters lost in the XML"] = Way(ZIPS, in_xml(stretch_lost), ())
