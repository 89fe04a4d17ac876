"""A stall's packages shared in whole packages among those who worked it, by largest remainder (Hamilton).

Comes in: facts.stall_work, facts.stalls and season.rules, as Arrow tables. Goes out: one Arrow table, a row a stall and
participant: its share, and whether one of the packages left over is in it and why.

A participant's quota is packages times weight over all weights; each gets the whole part of it, and the packages left
over go by falling remainder, one each. Among equal remainders whoever has had the fewest left over so far in the season
comes first, then the smallest SHA-256 of place|date|start|participant: nobody chooses. Stalls are gone through in the
order of their weeks, then days, hours and places, over the whole area: a later week alters no earlier share. Weights
are 1 each, or minutes where the season says so and all who worked a stall have theirs told.
"""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from typing import Any

import pyarrow as pa

Row = dict[str, Any]
SHARED = pa.schema([
    ("at_troop", pa.string()), ("week_ending", pa.date32()), ("date", pa.date32()), ("start", pa.time64("us")),
    ("place", pa.string()), ("troop", pa.string()), ("participant", pa.string()), ("packages", pa.int64()),
    ("of_stall", pa.int64()), ("workers", pa.int64()), ("by_minutes", pa.bool_()), ("left_over", pa.bool_()),
    ("why", pa.string()), ("file_no", pa.int64()), ("sheet", pa.string()), ("row_no", pa.int64()),
])  # fmt: skip
PLACE = ("file_no", "sheet", "row_no")
STALL = ("at_troop", "week_ending", "date", "start", "place")
LARGER, FEWER, BY_LOT = "larger remainder", "fewest left over so far", "by lot"


@dataclass(frozen=True, slots=True)
class Share:
    """What one participant is given of a stall; `why`: by what a package left over came to it, else empty."""

    packages: int
    why: str = ""


def largest_remainder(
    packages: int, weights: Mapping[str, int], had: Mapping[str, int], lot: Mapping[str, str]
) -> dict[str, Share]:
    """Whole packages by weight; `had`: left over so far, `lot`: what decides last. Their sum is `packages`."""
    total = sum(weights.values())
    whole = {who: packages * weight // total for who, weight in weights.items()}
    remainder = {who: packages * weight % total for who, weight in weights.items()}
    order = sorted(weights, key=lambda who: (-remainder[who], had.get(who, 0), lot[who]))
    left = packages - sum(whole.values())
    lucky, others = order[:left], order[left:]
    shares = {who: Share(whole[who]) for who in others}
    for who in lucky:
        ties = [other for other in others if remainder[other] == remainder[who]]
        why = FEWER if all(had.get(who, 0) < had.get(other, 0) for other in ties) else BY_LOT
        why = why if ties else LARGER
        shares[who] = Share(whole[who] + 1, why)
    return shares


def drawn(place: str | None, on: date, start: time | None, participant: str) -> str:
    """The lot of a participant at a stall."""
    told = f"{place or ''}|{on.isoformat()}|{f'{start:%H:%M}' if start else ''}|{participant}"
    return hashlib.sha256(told.encode()).hexdigest()


def shared(work: pa.Table, stalls: pa.Table, rules: pa.Table) -> pa.Table:
    """The shares of every stall; none where the season shares nothing."""
    how = rules["stall_credit"].to_pylist()[0]
    workers: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for row in work.to_pylist():
        workers[tuple(row[name] for name in STALL)].append(row)
    held = [row | {"at_troop": row["troop"]} for row in stalls.to_pylist() if row["packages"] > 0]
    had: Counter[str] = Counter()
    made: list[Row] = []
    for stall in sorted(held, key=_in_order) if how != "none" else ():
        of_stall = workers[tuple(stall[name] for name in STALL)]
        if of_stall:
            by_minutes = how == "minutes" and all(one["minutes"] for one in of_stall)
            made += _shares(stall, of_stall, had, by_minutes=by_minutes)
    return pa.Table.from_pylist(made, SHARED)


def _in_order(stall: Row) -> tuple[Any, ...]:
    return stall["week_ending"], stall["date"], stall["start"] or time(0), stall["place"] or "", stall["at_troop"]


def _shares(stall: Row, workers: list[Row], had: Counter[str], *, by_minutes: bool) -> list[Row]:
    weights = {one["participant"]: one["minutes"] if by_minutes else 1 for one in workers}
    lot = {who: drawn(stall["place"], stall["date"], stall["start"], who) for who in weights}
    shares = largest_remainder(stall["packages"], weights, had, lot)
    had.update(who for who, share in shares.items() if share.why)
    told = {name: stall[name] for name in STALL}
    told |= {"of_stall": stall["packages"], "workers": len(weights), "by_minutes": by_minutes}
    return [
        told | {"troop": one["troop"], "participant": one["participant"], "packages": share.packages,
                "left_over": bool(share.why), "why": share.why} | {name: one[name] for name in PLACE}
        for one in sorted(workers, key=lambda one: str(one["participant"])) for share in [shares[one["participant"]]]
    ]  # fmt: skip
