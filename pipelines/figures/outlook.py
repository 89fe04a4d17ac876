"""How many packages will still go out of a troop's stock, with a range that holds eight times of ten.

Comes in: what each troop sold of each item in the weeks submitted, its participants, last season's cumulative sales.
Goes out: expected packages by troop and item, with ranges, for the rest of the season or some weeks of it.

A troop's level is what it sold so far, newer weeks counting more, leaning a little towards what troops of its size
sell; the weeks to come go as last season's went. That is a discounted gamma-Poisson credibility forecast (Bornhuetter
and Ferguson 1972 with a Bühlmann 1967 weight; both from memory), the mix of items shrunk as in a Dirichlet-multinomial.
The range is as wide as the same rule was wrong in last season's weeks and in this season's earlier ones, and negative
binomial. The constants were chosen on invented seasons. It says what goes out, not what people want, and ranks nobody.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_SHAPE = 0.1  # of an average week: no week is expected to sell nothing
FADING = {True: 0.7, False: 0.5}  # with a last season, without
LEANING = {True: 0.05, False: 0.0}
AREAS_WEEKS = 2  # the area's word on a troop's level counts like so many average weeks
AREAS_PACKAGES = 100  # the area's mix of items counts like so many packages of the troop's own
TAKINGS = (4.0, 24.0)  # bounds of the packages that go at a time
USUAL_TAKING = 6.0
USUAL_SPREAD, USUAL_TRIES = 0.5, 30  # of a troop's own, before any try
AREAS_SPREAD, AREAS_TRIES = 0.30, 3  # of the whole area at once
SPREAD_UNKNOWN = 0.55  # of the whole area, without a last season
LEAST_TRIED = 10  # packages expected, from which a try says something of the spread
DECILE = 1.28155  # of the normal distribution: 80 % lie within so many deviations


@dataclass(frozen=True)
class LastSeason:
    """A season before: packages of each troop by week (not cumulative), shape (troops, weeks), and its participants."""

    packages: Floats
    participants: Floats

    @classmethod
    def of_points(cls, points: list[dict[int, float]], participants: list[float], weeks: int) -> "LastSeason | None":
        """From cumulative packages by week number: straight lines between, 0 in week 0, level after the last.

        A troop counts where it had participants and sold something; None where none did. `weeks`: of this season.
        """
        numbers = np.arange(max([weeks, *(max(one, default=0) for one in points)]) + 1, dtype=np.float64)
        rows, people = [], []
        for told, who in zip(points, participants, strict=True):
            at = sorted(told)
            if who > 0 and at and told[at[-1]] > 0:
                rows.append(np.diff(np.interp(numbers, [0, *at], [0, *(told[week] for week in at)])))
                people.append(who)
        return cls(np.array(rows), np.array(people, dtype=np.float64)) if rows else None


@dataclass(frozen=True)
class Season:
    """What is known by the end of week `week` of `weeks`.

    `sold`: packages out of stock (troops, week, items), `sent`: which weeks are submitted (troops, week); what was not
    sent is unknown. `participants` (troops) and `own_last` (troops): last season's packages a participant, NaN where
    the troop had none. `takings`: the sum and the sum of squares of packages of one item that one participant took in a
    week. `ran_out` (troops, week, items): nothing was on hand at the week's end, so that more might have gone.
    """

    weeks: int
    week: int
    sold: Floats
    sent: Flags
    participants: Floats
    own_last: Floats
    last: LastSeason | None
    takings: tuple[float, float] = (0.0, 0.0)
    ran_out: Flags | None = None

    @cached_property
    def shape(self) -> Floats:
        """The part of the season's packages that goes in each week, (weeks); they sum to 1."""
        if self.last is None:
            return np.full(self.weeks, 1 / self.weeks)
        all_weeks = self.last.packages.sum(axis=0)
        raw = np.maximum(all_weeks[: self.weeks] / all_weeks.sum(), LEAST_SHAPE / self.weeks)
        return np.asarray(raw / raw.sum())

    @cached_property
    def size(self) -> Floats:
        """What a troop of this size sells in a season, (troops); without a last season its participants."""
        people = np.maximum(self.participants, 1)
        if self.last is None:
            return people
        each = self.last.packages.sum() / self.last.participants.sum()
        return np.asarray(people * np.where(np.isnan(self.own_last), each, (each + self.own_last) / 2))

    @property
    def at_a_time(self) -> float:
        """Packages that go at a time: how much more than single packages the weeks vary."""
        packages, squares = self.takings
        return float(np.clip(1.5 * squares / packages, *TAKINGS)) if packages else USUAL_TAKING


@dataclass(frozen=True)
class Outlook:
    """Levels (troops), mix (troops, items), and the spreads by which ranges are made; None stands for no outlook."""

    season: Season
    growth: float
    level: Floats
    mix: Floats
    own_spread: float
    tries: int
    area_spread_squared: float
    wanted: Floats  # packages more that would have gone where an item ran out, newer weeks counting more, (troops)

    def left(self, first: int | None = None, last: int | None = None) -> float:
        """The part of the season that lies in weeks first..last (from 1); the rest of it unless said."""
        return float(self.season.shape[(first or self.season.week + 1) - 1 : last or self.season.weeks].sum())

    def mean(self, part: float | Floats) -> Floats:
        """Packages expected in a part of the season, (troops)."""
        return np.asarray(self.level * part)

    def troop_variance(self, mean: Floats) -> Floats:
        """Variance of a troop's packages around their mean, or of one item of it (any shape)."""
        return np.asarray(self.season.at_a_time * mean + (self.own_spread**2 + self.area_spread_squared) * mean**2)

    def area_variance(self, means: Floats) -> Floats:
        """Variance of the sum over troops, whose means these are, (troops) → ()."""
        own = self.own_spread**2 * (means**2).sum()
        return np.asarray(self.season.at_a_time * means.sum() + own + self.area_spread_squared * means.sum() ** 2)

    def area_item_variance(self, means: Floats) -> Floats:
        """Variances of the sums over troops by item, (troops, items) → (items)."""
        mean, takings = means.sum(axis=0), self.season.at_a_time
        of_mix = takings / np.maximum(taken(self.season)[0].sum(axis=0), 1)
        own = self.own_spread**2 * (means**2).sum(axis=0)
        return np.asarray(takings * mean + own + (self.area_spread_squared + of_mix) * mean**2)

    def seen(self) -> tuple[Floats, Floats]:
        """Packages so far and the part of the season they were sold in, newer weeks counting more, (troops) each."""
        return _seen(self.season)


def _seen(season: Season) -> tuple[Floats, Floats]:
    by_troop = np.where(season.sent, season.sold.sum(axis=2), 0.0)
    return _faded(by_troop, season.sent, season.shape, season.week, has_last=season.last is not None)


def outlook(season: Season) -> Outlook | None:
    """The outlook as of a week's end; None where nothing at all is known (no last season, and no week sent)."""
    if season.last is None and not season.sent[:, : season.week].any():
        return None
    told, season = season, with_wants(season)
    growth, level = levels(season, season.week)
    own, tries = own_spread(season)
    spread = area_spread(season) if season.week < season.weeks else 0
    return Outlook(season, growth, level, mix(season), own, tries, spread, _seen(season)[0] - _seen(told)[0])


def with_wants(season: Season) -> Season:
    """Where an item ran out, what would have gone at the troop's level, where that is more; worked out twice."""
    if season.ran_out is None or not season.ran_out.any():
        return season
    changed = season
    for _ in range(2):
        _growth, level = levels(changed, season.week)
        at_level = level[:, None, None] * season.shape[None, : season.week, None] * mix(changed)[:, None, :]
        changed = replace(season, sold=np.where(season.ran_out, np.maximum(season.sold, at_level), season.sold))
    return replace(changed, ran_out=None)


def levels(season: Season, by_week: int) -> tuple[float, Floats]:
    """The area's growth, and each troop's level: packages in a whole season, as known by a week's end."""
    by_troop = np.where(season.sent, season.sold.sum(axis=2), 0.0)
    has_last = season.last is not None
    return _levels(
        by_troop, season.sent, season.shape, season.size, by_week, has_last=has_last, leaning=LEANING[has_last]
    )


def _levels(
    sold: Floats, sent: Flags, shape: Floats, size: Floats, by_week: int, *, has_last: bool, leaning: float
) -> tuple[float, Floats]:
    """Levels of troops from what they sold, (troops, weeks), in the weeks up to one."""
    seen, expected = _faded(sold, sent, shape, by_week, has_last=has_last)
    above = max(0.0, seen.sum() + leaning * size.sum())
    below = (size * expected).sum() + leaning * size.sum()
    growth = float(above / below) if below else 1.0
    credit = AREAS_WEEKS / len(shape)
    return growth, np.maximum(0.0, (seen + credit * growth * size) / (expected + credit))


def _faded(sold: Floats, sent: Flags, shape: Floats, by_week: int, *, has_last: bool) -> tuple[Floats, Floats]:
    """Packages sold in the weeks sent, and the parts of the season that these are, newer ones counting more."""
    fading = FADING[has_last] ** np.arange(by_week - 1, -1, -1)
    return (sold[:, :by_week] * sent[:, :by_week]) @ fading, (sent[:, :by_week] * shape[:by_week]) @ fading


def taken(season: Season) -> tuple[Floats, Floats]:
    """Packages of each item so far, not below 0, (troops, items); and of a troop in all, (troops)."""
    by_item = np.maximum(0.0, (season.sold * season.sent[:, :, None]).sum(axis=1))
    return by_item, by_item.sum(axis=1)


def mix(season: Season) -> Floats:
    """The part that each item is of a troop's packages, leaning towards the area's mix, (troops, items)."""
    by_item, of_troop = taken(season)
    area = (by_item.sum(axis=0) + 1) / (by_item.sum() + by_item.shape[1])
    return np.asarray((by_item + AREAS_PACKAGES * area) / (of_troop[:, None] + AREAS_PACKAGES))


def own_spread(season: Season) -> tuple[float, int]:
    """How far single troops lie from what the same rule said of earlier weeks, as a part; from how many tries."""
    found = [one for week in range(1, season.week) for one in _spreads(season, *_tried(season, week)[:2])]
    if season.last is not None:
        last, weeks = season.last, season.weeks
        shape = season.shape
        packages = last.packages[:, :weeks]
        sent = np.ones_like(packages, dtype=np.bool_)
        for week in range(1, weeks):
            _g, level = _levels(packages, sent, shape, last.participants, week, has_last=True, leaning=0.0)
            found += _spreads(season, packages[:, week:].sum(axis=1), level * shape[week:].sum())
    if not found:
        return USUAL_SPREAD, 0
    wide = float(np.quantile(found, 0.8))
    return (USUAL_TRIES * USUAL_SPREAD + len(found) * wide) / (USUAL_TRIES + len(found)), len(found)


def _tried(season: Season, week: int) -> tuple[Floats, Floats, float]:
    """What went in the weeks sent after an earlier one, what was expected of them then, and the ratio over the area."""
    _growth, level = levels(season, week)
    sent = season.sent[:, week : season.week]
    actual = (season.sold[:, week : season.week].sum(axis=2) * sent).sum(axis=1)
    expected = level * (sent @ season.shape[week : season.week])
    return actual, expected, ratio(actual, expected)


def ratio(actual: Floats, expected: Floats) -> float:
    """Actual by expected packages over the area, each at least 1."""
    return float(max(actual.sum(), 1) / max(expected.sum(), 1))


def _spreads(season: Season, actual: Floats, expected: Floats) -> list[float]:
    """The spreads that would just have reached what went, of troops of which enough was expected."""
    if not expected.sum():
        return []
    fitted = ratio(actual, expected) * expected
    tried = fitted >= LEAST_TRIED
    off, around = ((actual - fitted) / DECILE)[tried], fitted[tried]
    return list(np.sqrt(np.maximum(0.0, off**2 - season.at_a_time * around)) / around)


def area_spread(season: Season) -> float:
    """The square of how far the whole area may turn at once, as a part, over the weeks that are left."""
    if season.last is None:
        return SPREAD_UNKNOWN**2
    turned, count = AREAS_TRIES * AREAS_SPREAD**2, AREAS_TRIES
    for week in range(1, season.week):
        _actual, expected, turn = _tried(season, week)
        if expected.sum():
            turned += float(np.log(turn) ** 2 / (1 / counted_weeks(week) + 1 / (season.week - week)))
            count += 1
    return turned / count * (1 / counted_weeks(season.week) + 1 / (season.weeks - season.week))


def counted_weeks(week: int) -> float:
    """How many weeks the faded ones up to a week count as; 1 before the first."""
    if week < 1:
        return 1.0
    fading = FADING[True] ** np.arange(week)
    return float(fading.sum() ** 2 / (fading**2).sum())


def quantile(chance: float, mean: Floats, variance: Floats) -> Floats:
    """The smallest whole number that so much of a negative binomial lies at or below; 0 where the mean is 0.

    The variance is kept above the mean. Equal to scipy.stats.nbinom.ppf, whose import costs more than all of this.
    """
    from scipy.special import betainc, nbdtrik  # noqa: PLC0415 - only who computes measures waits for it

    mean, variance = np.broadcast_arrays(np.asarray(mean, np.float64), np.asarray(variance, np.float64))
    made = np.zeros(mean.shape)
    some = mean > 0
    m = mean[some]
    wide = np.maximum(variance[some], 1.0001 * m + 1e-9)
    size, success = m**2 / (wide - m), m / wide

    def reaches(at: Floats) -> Flags:
        return np.asarray((at >= 0) & (betainc(size, np.maximum(at, 0) + 1, success) >= chance))

    near = nbdtrik(chance, size, success)
    guess = np.ceil(np.where(np.isfinite(near), near, m))
    while (too_low := ~reaches(guess)).any():
        guess[too_low] += 1
    while (too_high := reaches(guess - 1)).any():
        guess[too_high] -= 1
    made[some] = guess
    return made
