"""What one troop may learn of the others: three coarse quartiles of a figure, or nothing.

Comes in: the other troops' values of one figure. Goes out: Quartiles, where at least ten troops stand behind them and
no single troop's value can be worked out from them.

Each quartile is the mean of the three values around it, rounded coarsely, so that none of them is a troop's own. Where
the outer ones are equal after rounding nothing is shown, since then most troops' values would be known.

Of the other troops only, rates and averages only. The threshold of ten: ONS Longitudinal Study advice, CMS cell size
suppression policy.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

FEWEST = 10  # troops behind a figure that is shown; the usual threshold, see above
Compared = Literal["sell_through", "paid_through", "share", "average_per_active"]
STEPS: dict[Compared, Fraction] = {  # rates and averages only, never a sum of money; and how coarsely they are shown
    "sell_through": Fraction(1, 50),
    "paid_through": Fraction(1, 50),
    "share": Fraction(1, 50),
    "average_per_active": Fraction(1),
}


@dataclass(frozen=True, slots=True)
class Quartiles:
    """The lower quartile, the median and the upper quartile of the other troops, and how many they are."""

    lower: float
    median: float
    upper: float
    troops: int


def quartiles(others: Sequence[float | None], step: Fraction) -> Quartiles | None:
    """Quartiles of the others' values, each the mean of three neighbours rounded to `step`; None: not shown."""
    known = sorted(Fraction(value) for value in others if value is not None)
    if len(known) < FEWEST:
        return None
    shown = [round(_around(known, Fraction(place, 4)) / step) * step for place in (1, 2, 3)]
    if shown[0] == shown[2]:
        return None
    return Quartiles(float(shown[0]), float(shown[1]), float(shown[2]), len(known))


def _around(known: Sequence[Fraction], part: Fraction) -> Fraction:
    middle = min(max(round((len(known) - 1) * part), 1), len(known) - 2)
    return sum(known[middle - 1 : middle + 2], Fraction()) / 3
