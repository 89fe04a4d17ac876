"""Participants' codes: which are on the roster, which only read like one that is, which can be no code at all.

Comes in: the codes of the roster, the pattern of season.toml where it gives one, cells. Goes out: what is meant, or
whether a text has the form of a code. An unknown code of the right form is nobody's mistake here: somebody sold without
being registered. What is meant may be somebody of another troop: whoever tells a leader of it names `of_troop` alone.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import groupby

from pipelines.definitions.columns import fold

# A row of totals, in the languages that spreadsheets are filled in; any word of it gives it away.
TOTALS = set(
    "total totals totaal totale totali totales totaux totalt subtotal grandtotal sum sums summe summa summe gesamt "
    "insgesamt zusammen zwischensumme endsumme gesamtsumme somme suma soma somma razem ogółem celkem součet spolu "
    "összesen toplam yhteensä všeho ukupno skupaj viso kokku kopā gjithsej jumlah tổng cộng samtals итого всего сумма "
    "разом усього общо вкупно σύνολο \u03c3 ∑ alltogether altogether 合計 合计 總計 总计 小計 小计 計 총계 합계 소계 "
    "कुल जोड़ योग المجموع الإجمالي إجمالي مجموع סהכ סך รวม ยอดรวม".split()
)
EVERYBODY = set(
    "all and the who we us our they them everybody everyone nobody noone none both girls boys children kids parents "
    "families whole team came with "
    "alle und die der wir niemand todos todas nadie las los tous toutes et les tutti tutte".split()
)
MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()
RUNS = re.compile(r"[0-9]+|[^\W\d_]+")
NAMED_MONTH = re.compile(r"(?:([0-9]{1,4})[-./ ])?([a-z]{3})[a-z]*\.?(?:[-./ ]([0-9]{1,4}))?")
THREE = re.compile(r"([0-9]{1,4})[-./]([0-9]{1,2})[-./]([0-9]{1,4})(?:[ T]00:00(?::00)?)?")
NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,3})?")
BEFORE_TOTAL = (["grand"], ["sous"], ["sub"])
LONGEST_TOTAL = 40  # characters of what begins a row of totals
MOST_MEANT = 3  # codes that one text is said to read like
SLACK = 1  # how much longer or shorter than those of the roster a run of letters or digits may be

Parts = tuple[str | int, ...]
Roster = Mapping[str, frozenset[str]]  # of each participant's code the troops that it is of


def is_total(text: str) -> bool:
    """Whether a text names a row of totals: `Total`, `Week total`, `9481-05 Total`, `Gesamt`, `Σ`."""
    return fold(text) in TOTALS or not TOTALS.isdisjoint(_words(text))


def begins_as_total(text: str) -> bool:
    """Whether a row that begins so is one of totals (`Grand total:`, `Summe 3`): any word of it may be a ware's."""
    words = _words(text)
    first = words[1:2] if words[:1] in BEFORE_TOTAL else words[:1]
    return (not TOTALS.isdisjoint(first) or fold(text) in TOTALS) and len(text) < LONGEST_TOTAL


def _words(text: str) -> list[str]:
    plain = unicodedata.normalize("NFKC", text).replace('"', "").replace("״", "").casefold()
    return re.findall(r"[^\W\d_]+|∑", plain)


def is_everybody(words: Iterable[str]) -> bool:
    """Whether words say who came in a sentence, in place of their codes."""
    return not EVERYBODY.isdisjoint(word.casefold().strip(".!:") for word in words)


@dataclass(frozen=True)
class Codes:
    """The codes of the roster, and the form that a code has."""

    known: Roster = field(default_factory=dict)
    pattern: str = ""  # of season.toml; empty: the form is learned from those that are known

    def meant(self, cell: object) -> list[str]:
        """The codes of the roster that a cell reads like, when it is none of them."""
        text = str(cell)
        found: dict[str, None] = {}
        for key in (*_keys(text), *(("parts", parts) for parts in _as_day(cell, text)), *_as_number(text)):
            found.update(dict.fromkeys(self._like.get(key, ())))
        return list(found)[:MOST_MEANT]

    def may_be(self, text: str) -> bool:
        """Whether a text has the form of a code; any has, where neither season.toml nor a roster says."""
        if self.pattern:
            return re.fullmatch(self.pattern, text) is not None
        if not self.known:
            return True
        runs = self._forms.get(_form(text))
        lengths = [len(run) for run in _runs(text)]
        return runs is not None and all(
            low - SLACK <= length <= high + SLACK for length, (low, high) in zip(lengths, runs, strict=True)
        )

    def of_troop(self, codes: Iterable[str], troop: object) -> list[str]:
        """Those of these codes that are a troop's own."""
        return [code for code in codes if troop in self.known.get(code, ())]

    def example(self, troop: object) -> str:
        """A code of a troop's roster, to show what one looks like."""
        return min(self.of_troop(self.known, troop), default="")

    @cached_property
    def _like(self) -> dict[object, list[str]]:
        """The known codes by each of the keys under which another spelling finds them."""
        like: dict[object, list[str]] = {}
        for code in sorted(self.known):
            for key in {*_keys(code), *_as_number(code)}:
                like.setdefault(key, []).append(code)
        return like

    @cached_property
    def _forms(self) -> dict[str, list[tuple[int, int]]]:
        """The forms of the known codes, with the shortest and the longest of each run."""
        forms: dict[str, list[tuple[int, int]]] = {}
        for code in self.known:
            lengths = [len(run) for run in _runs(code)]
            known = forms.setdefault(_form(code), [(length, length) for length in lengths])
            forms[_form(code)] = [(min(low, n), max(high, n)) for (low, high), n in zip(known, lengths, strict=True)]
        return forms


def _runs(text: str) -> list[str]:
    """The stretches of digits, of letters and of other marks that a text is made of."""
    return ["".join(run) for _kind, run in groupby(text, _kind)]


def _kind(mark: str) -> str:
    return "9" if mark.isdigit() else "a" if mark.isalpha() else mark


def _form(text: str) -> str:
    """What kinds of stretches a text is made of: `0417-03` is 9-9."""
    return "".join(kind for kind, _run in groupby(text, _kind))


def _plain(text: str) -> str:
    """A text without what cannot be seen, in plain digits and small letters."""
    seen = "".join(mark for mark in text if unicodedata.category(mark) not in ("Cf", "Mn"))
    return unicodedata.normalize("NFKC", seen).casefold()


def _keys(text: str) -> list[tuple[str, object]]:
    """Keys under which spellings of one code meet: other dashes and spaces, lost zeros, O for 0, l for 1."""
    plain = _plain(text)
    keys: list[tuple[str, object]] = []
    for one in {plain, plain.replace("o", "0").replace("l", "1").replace("i", "1")}:
        runs = RUNS.findall(one)
        if runs:
            keys.append(("parts", tuple(int(run) if run.isdigit() else run for run in runs)))
            keys.append(("joined", "".join(runs).lstrip("0")))
    return keys


def _as_day(cell: object, text: str) -> list[Parts]:
    """The codes that a spreadsheet would have turned into this day: 2154-07 and 3-04 become days."""
    found: list[Parts] = []
    if isinstance(cell, date):
        found = _of_day(cell.year, cell.month, cell.day)
    elif three := THREE.fullmatch(text.strip()):
        one, two, other = (int(part) for part in three.groups())
        found = _of_day(one, two, other) + _of_day(other, one, two) + _of_day(other, two, one)
    elif (named := NAMED_MONTH.fullmatch(_plain(text).strip())) and named[2] in MONTHS:
        month = MONTHS.index(named[2]) + 1
        for number in (int(part) for part in (named[1], named[3]) if part):
            found += [(month, number), (number, month), (1900 + number, month), (2000 + number, month)]
        if named[1] and named[3]:
            found += _of_day(int(named[3]), month, int(named[1]))
    return found


def _of_day(year: int, month: int, day: int) -> list[Parts]:
    short = year % 100
    pairs: list[Parts] = [(month, day), (day, month), (year, month, day), (day, month, year), (month, day, year)]
    pairs += [(short, month, day), (day, month, short), (month, day, short)]
    return [*pairs, (year, month), (month, year), (short, month), (month, short)] if day == 1 else pairs


def _as_number(text: str) -> list[tuple[str, object]]:
    """The number that a spreadsheet would make of a code: 12.10 becomes 12.1, 4E10 becomes 40000000000."""
    return [("number", float(text))] if NUMBER.fullmatch(text) else []
