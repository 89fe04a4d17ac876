"""A region's roll-up of invented sums, each figure of which occurs nowhere else: whoever sees it has seen that row.

Comes in: a folder, a seed. Goes out: the roll-up as `musterbook region rollup` writes it, without any area's book.
"""

import random
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import RELATIONS
from pipelines.region.adding import Sums
from pipelines.region.papers import COMPARED, OF_ITEMS, write
from pipelines.region.sources import Area, LeftOut, Levels

W6, W5 = date(2027, 3, 21), date(2027, 3, 14)
NAMES = ("north", "Över & <i>out</i>", 'a "b"', "=1+1", "south", "x;y")
LEFT = LeftOut(Path("council=east/area=secret"), "purged: its season is over")
TERMS: dict[str, Any] = {"season": ["Spring", "2027-02-08", "2027-04-18"], "currency": "USD", "sign": "$",
                         "files": {}, "items": []}  # fmt: skip


def sums_of(seed: int, councils: int = 3, areas: int = 3) -> Sums:
    """Invented sums of so many councils with so many areas each; the last area is a week older."""
    drawn = random.Random(seed)  # noqa: S311 - a test's
    taken: set[int] = set()

    def number() -> int:
        while (found := drawn.randrange(10_000_000, 100_000_000)) in taken:
            pass
        taken.add(found)
        return found

    def value(unit: str) -> Any:
        if unit == "money":
            return (Decimal(number()) / 100).quantize(Decimal("0.01"))
        return number() / 10**8 if unit == "share" else number() / 10**6 if unit in ("average", "weeks") else number()

    named: list[Levels] = [
        (("council", NAMES[one]), ("area", f"hall {number()}"))
        for one in range(councils) for _area in range(areas)
    ]  # fmt: skip
    groups = sorted({one[:depth] for one in named for depth in range(3)}, key=lambda one: (len(one), one))
    every = range(len(groups))
    measures = {name: one.unit for name, one in RELATIONS["area"].items()}
    items = {name: RELATIONS["item_totals"][name].unit for name in OF_ITEMS if name in RELATIONS["item_totals"]}
    return Sums(
        W6, 6, tuple(Area(Path(f"at {no}"), one, W6, "", TERMS, 6) for no, one in enumerate(named)), tuple(groups),
        tuple({"group": no} | {name: value(unit) for name, unit in measures.items()} for no in every),
        tuple({"group": no} | {"item": code, "title": code} | {name: value(unit) for name, unit in items.items()}
              for no in every for code in ("TUL", "CRO")),
        tuple({"group": no, "mode": "by_hand", "state": state, "orders": number(), "packages": number(),
               "goods_amount": value("money")} for no in every for state in ("waiting", "done")),
        tuple({"group": no, "rule": rule, "found": number(), "troops": number(), "at_stake": value("money")}
              for no in every for rule in [*rules()][:3]),
        tuple({"group": no, "measure": measure, "is_low": drawn.random() < 0.3, "is_high": False}
              | {name: value("share" if measure == "share" else "average") for name in COMPARED[1:-2]}
              for no in every if len(groups[no]) == 2 for measure in ("average", "share")),
    )  # fmt: skip


def aged(sums: Sums) -> Sums:
    """The same, its last area a week older than the rest."""
    return replace(sums, areas=(*sums.areas[:-1], replace(sums.areas[-1], as_of=W5)))


def rolled_up(folder: Path, sums: Sums) -> Path:
    """Puts it in a folder's place."""
    write(sums, [LEFT], folder)
    return folder
