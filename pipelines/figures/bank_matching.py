"""Which line of the bank answers which row of the book.

Comes in: measures.bank_entries, lines and rows of each day and troop. Goes out: pairs of their places (BANK_PAIRS).

A line answers a row when the amount is the same and its day lies 1 day before to 5 days after; one that names the row's
slip or reference answers it on any day. First one to one, as one assignment problem: as many named pairs as there can
be, then as many pairs as there can be, then the least sum of days, then the bank's order. Then up to four deposits of
the seven days that a line may answer, to one line, if exactly one choice adds up. Method: the shortest augmenting paths
of scipy.optimize.linear_sum_assignment (Crouse 2016, IEEE Trans. Aerosp. Electron. Syst. 52:1679-1696).
"""

import re
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import combinations, groupby
from typing import NamedTuple

import numpy as np
import pyarrow as pa

BEFORE, AFTER = 1, 5  # days that a line may lie before a row of the book, and after it
TOGETHER = 4  # deposits that a bank may book as one
MOST_CHOICES = 24  # open deposits of seven days of one troop; more would take too long to try, and say nothing
MOST_AT_ONCE = 200  # lines of one amount that lie close together
SHORTEST_REFERENCE = 3  # characters; a shorter one stands in many a line by chance
EXACT = 2**53  # whole numbers up to this are exact in what the solver counts in
PAYMENTS = ("collection", "remittance")
WORD = re.compile(r"[^\W_]+")
JOINED = re.compile(r"[^\W_]+(?:[-/.][^\W_]+)+")
BANK_PAIRS = pa.schema([
    ("as_of", pa.date32()), ("troop", pa.string()), ("line_place", pa.int32()), ("row_place", pa.int32()),
    ("days", pa.int32()),
])  # fmt: skip


class Entry(NamedTuple):
    """A line of the bank, or a row of the book; `day` counted from any day, `cents` signed as the bank signs them."""

    day: int
    cents: int
    kind: str
    words: str


Pair = tuple[int, int]  # places of a line and of a row


def bank_pairs(entries: pa.Table) -> pa.Table:
    """Each pair of a line and a row that it answers; `days`: how much later than the row the line is."""
    solved: dict[tuple[tuple[Entry, ...], tuple[Entry, ...]], list[Pair]] = {}  # most weeks repeat the one before
    out: list[tuple[date, str, int, int, int]] = []
    for (as_of, troop), lines, rows in _of_each_troop(entries):
        key = (lines, rows)
        if key not in solved:
            solved[key] = matched(lines, rows)
        out += [(as_of, troop, at, to, lines[at].day - rows[to].day) for at, to in solved[key]]
    columns = [*zip(*out, strict=True)] or [()] * len(BANK_PAIRS)
    return pa.table([pa.array(column, of.type) for column, of in zip(columns, BANK_PAIRS, strict=True)], BANK_PAIRS)


def _of_each_troop(entries: pa.Table) -> Iterator[tuple[tuple[date, str], tuple[Entry, ...], tuple[Entry, ...]]]:
    by = [(name, "ascending") for name in ("as_of", "troop", "is_line", "place")]
    table = entries.sort_by(by)
    days = table["on_day"].cast(pa.int32()).to_pylist()
    made = map(Entry, days, table["cents"].to_pylist(), table["kind"].to_pylist(), table["words"].to_pylist())
    keys = zip(table["as_of"].to_pylist(), table["troop"].to_pylist(), strict=True)
    told = zip(keys, table["is_line"].to_pylist(), made, strict=True)
    for key, group in groupby(told, key=lambda one: one[0]):
        of_both: dict[bool, list[Entry]] = {True: [], False: []}
        for _key, is_line, entry in group:
            of_both[is_line].append(entry)
        yield key, tuple(of_both[True]), tuple(of_both[False])


def matched(lines: Sequence[Entry], rows: Sequence[Entry]) -> list[Pair]:
    """The pairs of one troop, by place; a line that answers several deposits stands in several."""
    pairs = _one_to_one(lines, rows)
    taken_lines, taken_rows = {at for at, _ in pairs}, {to for _, to in pairs}
    open_lines = [at for at in range(len(lines)) if at not in taken_lines]
    open_rows = [to for to in range(len(rows)) if to not in taken_rows]
    return sorted([*pairs, *_several_to_one(lines, rows, open_lines, open_rows)])


def _one_to_one(lines: Sequence[Entry], rows: Sequence[Entry]) -> list[Pair]:
    by_amount: dict[int, tuple[list[int], list[int]]] = {}
    for side, entries in enumerate((lines, rows)):
        for place, entry in enumerate(entries):
            by_amount.setdefault(entry.cents, ([], []))[side].append(place)
    pairs: list[Pair] = []
    for ats, tos in by_amount.values():
        if ats and tos:
            fitting = {(at, to): named for at in ats for to in tos if (named := _fits(lines[at], rows[to])) is not None}
            for near in _connected(fitting):
                pairs += _assigned(near, lines, rows)
    return pairs


def _fits(line: Entry, row: Entry) -> bool | None:
    """Whether a line names the row; None where it cannot answer it at all. Their amounts are the same."""
    if line.kind and line.kind != row.kind and not (line.kind in PAYMENTS and row.kind in PAYMENTS):
        return None
    if _is_telling(row.words) and row.words.casefold() in _words(line.words):
        return True
    return False if -BEFORE <= line.day - row.day <= AFTER else None


def _is_telling(reference: str) -> bool:
    return len(reference) >= SHORTEST_REFERENCE and any(mark.isdigit() for mark in reference)


def _words(text: str) -> set[str]:
    """What a line's text may name: its words, and what stands between spaces."""
    folded = text.casefold()
    return {*WORD.findall(folded), *JOINED.findall(folded), *folded.split()}


def _connected(fitting: dict[Pair, bool]) -> list[dict[Pair, bool]]:
    """The pairs that may be, apart where no choice among the ones bears on the others."""
    if len(fitting) <= 1:
        return [fitting] if fitting else []
    root: dict[tuple[str, int], tuple[str, int]] = {}

    def top(one: tuple[str, int]) -> tuple[str, int]:
        while root.setdefault(one, one) != one:
            root[one] = root[root[one]]
            one = root[one]
        return one

    for at, to in fitting:
        root[top(("line", at))] = top(("row", to))
    apart: dict[tuple[str, int], dict[Pair, bool]] = {}
    for pair, named in fitting.items():
        apart.setdefault(top(("line", pair[0])), {})[pair] = named
    return list(apart.values())


def _assigned(fitting: dict[Pair, bool], lines: Sequence[Entry], rows: Sequence[Entry]) -> list[Pair]:
    """The best choice of pairs, none of which shares a line or a row with another."""
    if len(fitting) == 1:
        return list(fitting)
    ats, tos = sorted({at for at, _ in fitting}), sorted({to for _, to in fitting})
    if max(len(ats), len(tos)) > MOST_AT_ONCE:  # a made-up file: cut in the bank's order, so that it ends in time
        cut = {pair: named for pair, named in fitting.items()
               if ats.index(pair[0]) // MOST_AT_ONCE == tos.index(pair[1]) // MOST_AT_ONCE}  # fmt: skip
        return [pair for near in _connected(cut) for pair in _assigned(near, lines, rows)] if cut else []
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - most books have no two lines to choose between

    where = {at: k for k, at in enumerate(ats)}, {to: k for k, to in enumerate(tos)}
    worth = np.zeros((len(ats), len(tos)))
    for pair, value in _worths(fitting, where, lines, rows).items():
        worth[where[0][pair[0]], where[1][pair[1]]] = value
    chosen = zip(*linear_sum_assignment(worth, maximize=True), strict=True)
    pairs = [(ats[int(k)], tos[int(n)]) for k, n in chosen]
    return [pair for pair in pairs if pair in fitting]


def _worths(
    fitting: dict[Pair, bool],
    where: tuple[dict[int, int], dict[int, int]],
    lines: Sequence[Entry],
    rows: Sequence[Entry],
) -> dict[Pair, int]:
    """What each pair is worth, so that the largest sum has most named, most pairs, least days, the bank's order."""
    most = min(len(where[0]), len(where[1]))
    width = len(where[0]) + len(where[1])
    days = {(at, to): abs(lines[at].day - rows[to].day) for at, to in fitting}
    crossing = len(where[0]) * len(where[1]) * most + 1  # a later line costs more than any order among the pairs
    day = crossing * width * most + 1
    pair = day * (max(days.values()) * most + 1)
    named = pair * (most + 1)
    if named * (most + 1) > EXACT:
        crossing, day = 0, 1
        pair = max(days.values()) * most + 1
        named = pair * (most + 1)
    worths = {}
    for (at, to), is_named in fitting.items():
        k, n = where[0][at], where[1][to]
        order = crossing * (width - k - n) + (k * n if crossing else 0)
        worths[at, to] = named * is_named + pair - day * days[at, to] + order
    return worths


def _several_to_one(
    lines: Sequence[Entry], rows: Sequence[Entry], open_lines: Sequence[int], open_rows: Sequence[int]
) -> list[Pair]:
    """Lines that are the only choice of several deposits together; two that want the same deposit get neither."""
    free = {to for to in open_rows if rows[to].kind == "deposit" and rows[to].cents > 0}
    waiting = [at for at in open_lines if lines[at].cents > 0 and lines[at].kind in ("", "deposit")]
    found: list[Pair] = []
    while waiting and free:
        only = {at: choice for at in waiting if (choice := _only_choice(lines[at], rows, sorted(free)))}
        wanted = [to for choice in only.values() for to in choice]
        sure = {at: choice for at, choice in only.items() if all(wanted.count(to) == 1 for to in choice)}
        if not sure:
            break
        found += [(at, to) for at, choice in sure.items() for to in choice]
        waiting = [at for at in waiting if at not in sure]
        free -= {to for choice in sure.values() for to in choice}
    return found


def _only_choice(line: Entry, rows: Sequence[Entry], free: Sequence[int]) -> tuple[int, ...]:
    """The deposits that add up to a line where one choice alone does, else none."""
    near = [to for to in free if -BEFORE <= line.day - rows[to].day <= AFTER and rows[to].cents < line.cents]
    if len(near) > MOST_CHOICES:
        return ()
    found: list[tuple[int, ...]] = []
    for many in range(2, TOGETHER + 1):
        found += [some for some in combinations(near, many) if sum(rows[to].cents for to in some) == line.cents]
        if len(found) > 1:
            return ()
    return found[0] if found else ()
