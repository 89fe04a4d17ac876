"""People told of a page against orders on it, by the picture it shows: orders for every ten told, with their interval.

Comes in: rows of measures.participants. Goes out: one Invitations for each kind of picture and one of all pages. Pages
that nobody was told of are not in it.

Orders for one told is a ratio of sums over pages, its spread that of a ratio estimator with the pages as units (W. G.
Cochran, Sampling Techniques, 3rd edition, 6.4; from memory): residuals of orders less ratio times told, Student's t.
It says how the season went here. Nobody says that a picture sells: who takes the trouble of one may tell other people.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

from scipy.stats import t

PICTURES = ("no", "still", "film")
ALL = "all"
LEAST_PAGES = 5  # below them there is no interval, and others are not shown them


@dataclass(frozen=True, slots=True)
class Invitations:
    """Pages, people told, orders; orders for ten told with its 95 % interval, where there are pages enough."""

    pages: int
    told: int
    orders: int
    low: float | None
    high: float | None

    @property
    def for_ten(self) -> float | None:
        return 10 * self.orders / self.told if self.told else None


def invitations(rows: Iterable[Mapping[str, Any]]) -> dict[str, Invitations]:
    """By picture, and of all; kinds without a page are left out."""
    told = [row for row in rows if row["people_told"] > 0]
    found = {one: _of([row for row in told if row["own_picture"] == one]) for one in PICTURES}
    return {name: one for name, one in (found | {ALL: _of(told)}).items() if one.pages}


def for_others(found: Mapping[str, Invitations]) -> dict[str, Invitations]:
    """What may be shown to those who do not know the pages: no kind of few pages, none that the sum would tell."""
    kinds = sorted((name for name in found if name != ALL), key=lambda name: found[name].pages)
    few = [name for name in kinds if found[name].pages < LEAST_PAGES]
    if len(few) == 1 and len(kinds) > 1:
        few = kinds[:2]
    return {name: one for name, one in found.items() if name not in few and one.pages >= LEAST_PAGES}


def _of(rows: Sequence[Mapping[str, Any]]) -> Invitations:
    people, orders, pages = sum(r["people_told"] for r in rows), sum(r["orders"] for r in rows), len(rows)
    if pages < LEAST_PAGES:
        return Invitations(pages, people, orders, None, None)
    ratio = orders / people
    squares = sum((row["orders"] - ratio * row["people_told"]) ** 2 for row in rows)
    error = sqrt(pages / (pages - 1) * squares) / people
    reach = float(t.ppf(0.975, pages - 1)) * error
    return Invitations(pages, people, orders, 10 * max(0.0, ratio - reach), 10 * (ratio + reach))
