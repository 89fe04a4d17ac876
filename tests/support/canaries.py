"""A book whose other troops carry canaries: codes, names and amounts that occur nowhere else; and how to find them.

Comes in: a folder, or bytes that a server sent. Goes out: the book, or the canaries in the bytes. Troop 0417 is the
leader's own. Every text of another troop contains QZX; its amounts are found as text and as the numbers of a table.
"""

import re
from pathlib import Path

from trial import SEASON, Trial

OTHERS = [f"QZX{number:02}" for number in range(1, 13)]
PACKAGES = [70_117 + 1_313 * number for number in range(12)]  # supplied: none of them occurs otherwise
CASH = [f"{8_310_019 + 40_013 * number}.{17 + number}" for number in range(12)]
MORE = """
[stalls]
credit = "equal"

[[awards]]
code = "P5"
title = "Five packages"
packages = 5
"""
TEXT = re.compile(rb"qzx[\w-]*", re.IGNORECASE)
WEEKS = ("2027-02-14", "2027-02-21")


def canary_book(folder: Path) -> Trial:
    """Two weeks of 0417 and of twelve other troops, whose every value is a canary."""
    trial = Trial(folder, SEASON + MORE)
    tables = {
        "troops": "troop level leader email phone\n0417 younger Our~Leader our@example.org 555-0100\n"
        + "\n".join(f"{code} older {code}~Leader {code}@example.org {code}-555" for code in OTHERS),
        "roster": "troop participant registered_on contact_on_file\n0417 0417-01 2026-10-01 yes\n"
        "0417 0417-02 2026-10-01 no\n"
        + "\n".join(f"{code} {code}-P{n} 2026-10-01 yes" for code in OTHERS for n in range(1, 5)),
        "qzx supply": "document troop item date packages kind\nOP-1 0417 GLA 2027-02-06 48 opening\n"
        + "\n".join(f"{code}-D {code} GLA 2027-02-06 {n} opening" for code, n in zip(OTHERS, PACKAGES, strict=True)),
    }
    for week in WEEKS:
        tables |= _week(week)
    trial.send(**tables)
    return trial


def _week(week: str) -> dict[str, str]:
    """What all troops report of a week."""
    families = [f"0417 {week} 0417-01 GLA 4 - -", f"0417 {week} 0417-01 - - 12.00 ours"]
    for place, (code, cash) in enumerate(zip(OTHERS, CASH, strict=True)):
        who = f"{code} {week} {code}-P{1 + place % 4}"
        families += [f"{who} GLA {5 + place} - -", f"{who} - - {cash} {code}~note"]
    stock = [f"{code} {week} GLA {many - 11}" for code, many in zip(OTHERS, PACKAGES, strict=True)]
    stalls = []
    for code in OTHERS:
        stall = f"{code} {week} {week} 10:00 {code}~Market"
        stalls += [f"{stall} GLA 6 - {code}-P2", f"{stall} - - 36.00 {code}-P2"]
    heads = {
        "stock": ("troop week_ending item on_hand", [f"0417 {week} GLA 40", *stock]),
        "families": ("troop week_ending participant item packages cash note", families),
        "stalls": ("troop week_ending date start place item packages cash participants", stalls),
    }
    return {f"qzx {name} {week}": "\n".join([head, *rows]) for name, (head, rows) in heads.items()}


def _shown() -> re.Pattern[bytes]:
    """The amounts as text, with and without marks between thousands; not within longer numbers or hashes."""
    texts = [text for many in PACKAGES for value in (many, many - 11) for text in (str(value), f"{value:,}")]
    texts += [text for cash in CASH for text in (cash, f"{cash[0]},{cash[1:4]},{cash[4:]}")]
    amounts = "|".join(re.escape(text) for text in texts)
    return re.compile(f"(?<![0-9a-f.-])(?:{amounts})(?![0-9a-f])".encode())


def _stored() -> list[bytes]:
    """The amounts as little-endian numbers of an Arrow table."""
    found = [value.to_bytes(4, "little") for many in PACKAGES for value in (many, many - 11)]
    return found + [int(cash.replace(".", "")).to_bytes(8, "little") for cash in CASH]


SHOWN, STORED = _shown(), _stored()


def canaries_in(answer: bytes, asked: bytes = b"") -> set[bytes]:
    """Canaries in an answer; a text that the question itself contained is no leak."""
    own = {text.lower() for text in TEXT.findall(asked)}
    texts = {text.lower() for text in TEXT.findall(answer)}
    found = (texts - own) | set(SHOWN.findall(answer))
    if not answer.startswith((b"%PDF", b"PK")):  # packed bytes hold any number by chance
        found |= {number for number in STORED if number in answer}
    return found
