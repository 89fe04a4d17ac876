"""What a person sees of a cell where it is not what the cell stores: struck text, a raised figure, a unit, a currency.

Comes in: number formats (ECMA-376 part 1, 18.8.30) and runs of text. Goes out: the cell as it is seen, as text:
`5 cases`, `€12.50`, `~~15~~12`, `2^1`. Such a text is judged like any typed one, so that it is asked about and never
counted as something else; a currency sign that is the season's is read as what it is.
"""

import re
import unicodedata
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation

ESCAPED = re.compile(r'"([^"]*)"|\\(.)|_.|\*.')
BRACKETS = re.compile(r"\[\$([^\]-]*)(?:-[^\]]*)?\]|\[[^\]]*\]")
DAY_OR_TIME = re.compile(r"[ymdhsb]|AM/PM", re.IGNORECASE)
SCALED = re.compile(r"[0#?](,+)(?:[^0#?,]|$)")
WRITTEN = re.compile(r"[-+(]?[0-9][0-9.,'\u2019\s]*(?:[eE][-+]?[0-9]+)?\)?")  # a number as a spreadsheet writes it
PLAIN = {"General", "general", "GENERAL", "Standard", "@", ""}


def unit_of(code: str) -> tuple[str, str]:  # noqa: PLR0911 - one line a kind of unit
    """What a number format puts before and behind a number and changes what it says: ("€", ""), ("", " cases").

    Both "" where it shows the number as it is; `%` and thousands left out are told behind it.
    """
    if code in PLAIN:
        return "", ""
    first = code.split(";", 1)[0]
    signs: list[str] = []

    def of_brackets(found: re.Match[str]) -> str:
        signs.append(found[1] or "")
        return ""

    bare = BRACKETS.sub(of_brackets, first)
    words: list[str] = []

    def of_literal(found: re.Match[str]) -> str:
        words.append(found[1] or found[2] or "")
        return ""

    rest = ESCAPED.sub(of_literal, bare)
    if DAY_OR_TIME.search(rest) or "E+" in rest or "E-" in rest:
        return "", ""
    said = "".join(words)
    signs += [mark for mark in said + rest if unicodedata.category(mark) == "Sc"]
    if sign := "".join(signs).strip():
        return sign, ""
    if "%" in rest:
        return "", "%"
    if scaled := SCALED.search(rest):
        return "", " thousand" * len(scaled[1])
    if any(mark.isalpha() for mark in said):
        return "", " " + said.strip()
    return "", ""


def unit_beside(text: str) -> tuple[str, str]:
    """The same of a number as it was written, where that is known and its format is not."""
    said = WRITTEN.sub("", text, count=1).strip()
    if sign := "".join(mark for mark in said if unicodedata.category(mark) == "Sc"):
        return sign, ""
    if "%" in said:
        return "", "%"
    return ("", f" {said}") if any(mark.isalpha() for mark in said) else ("", "")


def as_seen(stored: object, unit: tuple[str, str], *, is_struck: bool, is_raised: bool) -> object:
    """A cell as it is seen: with what its format puts around it, and marked where its font is."""
    seen = as_shown(stored, unit) if any(unit) else stored
    if seen is None or not (is_struck or is_raised):
        return seen
    return marked([(plain_number(seen) if isinstance(seen, float) else str(seen), is_struck, is_raised)])


def as_shown(value: object, unit: tuple[str, str]) -> object:
    """A number with what its format puts around it; anything else as it is."""
    before, behind = unit
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    number = plain_number(value * 100 if behind == "%" else value)
    return f"{'-' if value < 0 else ''}{before}{number.lstrip('-')}{behind}"


def plain_number(value: float) -> str:
    """A number in digits, without the noise in the last of a spreadsheet's 15 digits."""
    try:
        exact = Decimal(repr(value))
        short = round(exact, 2)
    except InvalidOperation:
        return str(value)
    exact = short if abs(exact - short) < Decimal("1e-6") else exact
    return f"{exact.normalize():f}" if exact == exact.to_integral() else f"{exact:f}"


def marked(runs: Iterable[tuple[str, bool, bool]]) -> str:
    """Runs of a text, each with whether it is struck through and whether it is raised or lowered, as one text."""
    parts = []
    for text, is_struck, is_raised in runs:
        bare = f"^{text}" if is_raised and text.strip() else text
        parts.append(f"~~{bare}~~" if is_struck and text.strip() else bare)
    return "".join(parts)
