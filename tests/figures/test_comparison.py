"""Comparing troops fairly: published examples, and what the rule does in a thousand random areas."""

from datetime import date

import numpy as np
import pyarrow as pa
import pytest
from numpy.typing import NDArray
from scipy.stats import betabinom, binom, chi2, false_discovery_control, median_abs_deviation, norm
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from pipelines.figures import comparison

Floats = NDArray[np.float64]
DAY = date(2027, 3, 21)
AREAS, TROOPS = 1000, 34


# Published examples


@pytest.mark.parametrize(
    ("some", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_intervals_are_newcombes(some: int, of: int, low: float, high: float) -> None:
    """Newcombe 1998, Statistics in Medicine 17:857-872, Table I, method 3."""
    z = 1.959963984540054
    middle, half = (some + z * z / 2) / (of + z * z), z * np.sqrt(some * (of - some) / of + z * z / 4) / (of + z * z)
    assert (middle - half, middle + half) == pytest.approx(proportion_confint(some, of, method="wilson"), abs=1e-12)
    assert (round(max(middle - half, 0), 4), round(middle + half, 4)) == (low, high)


def test_modified_z_finds_both_where_the_plain_z_finds_none() -> None:
    """Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers: ten values, two of them out."""
    values = np.array([2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3])
    middle, mad, z = comparison.modified_z(values)
    assert (middle, round(mad, 10)) == (2.45, 0.15)
    assert mad == pytest.approx(median_abs_deviation(values))
    assert z[-2:] == pytest.approx([25.8558, 26.3055], abs=1e-4)
    assert list(np.abs(z) > comparison.MODIFIED_Z) == [False] * 8 + [True] * 2
    assert np.max(np.abs(values - values.mean()) / values.std(ddof=1)) == pytest.approx(1.913, abs=5e-4)


def test_modified_z_on_a_handbook_set() -> None:
    """Rosner 1983 in NIST/SEMATECH e-Handbook 1.3.5.17.3: three of 54 values are out, by its test and by ours."""
    text = """-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76 1.77 1.81
        1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54 2.62 2.64 2.90 2.92 2.92
        2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01"""
    values = np.array([float(value) for value in text.split()])
    _middle, _mad, z = comparison.modified_z(values)
    assert values[np.abs(z) > comparison.MODIFIED_Z].tolist() == [5.34, 5.42, 6.01]
    assert z[-3:] == pytest.approx([4.016, 4.115, 4.845], abs=5e-4)


def test_false_discovery_is_controlled_as_published() -> None:
    """Benjamini and Hochberg 1995, J. R. Statist. Soc. B 57:289-300, section 3.2: four of fifteen are rejected."""
    text = ".0001 .0004 .0019 .0095 .0201 .0278 .0298 .0344 .0459 .3240 .4262 .5719 .6528 .7590 1"
    chances = np.array([float(value) for value in text.split()])
    ours = comparison.adjusted(chances)
    assert int((ours <= 0.05).sum()) == 4
    assert ours[3] == pytest.approx(0.035625)
    assert ours == pytest.approx(false_discovery_control(chances))
    assert ours == pytest.approx(multipletests(chances, method="fdr_bh")[1])
    assert int((chances <= 0.05 / 15).sum()) == 3  # what Bonferroni would have found


def test_adjusted_is_scipys_on_any_order_with_ties() -> None:
    dice = np.random.default_rng(1)
    for count in (1, 2, 7, 34):
        chances = np.round(dice.random((20, count)), 2)
        assert comparison.adjusted(chances) == pytest.approx(false_discovery_control(chances, axis=-1))


def test_limits_without_spread_are_a_funnel_plots() -> None:
    """A public health agency's funnel of 303 areas: average .8064244786, ten observed (its published table)."""
    found = comparison.limits(np.array([10.0]), np.array([0.8064244786]), np.array([0.0]))
    assert found["low_95"][0] == pytest.approx(0.56154344, abs=5e-9)
    assert found["low_998"][0] == pytest.approx(0.4203259, abs=5e-8)
    assert found["high_95"][0] == found["high_998"][0] == 1


def test_limits_of_ratios_are_published_the_same_way() -> None:
    """The same agency's funnel of ratios uses exact Poisson limits: k = 1 gives .025318 and 5.57164."""
    assert chi2.ppf(0.025, 2) / 2 == pytest.approx(0.025318, abs=5e-7)
    assert chi2.ppf(0.975, 4) / 2 == pytest.approx(5.57164, abs=5e-6)


def test_real_unequal_groups() -> None:
    """Van der Lee and Ellemers 2015, PNAS 112:12349: nine disciplines, 467 of 2,823 applications awarded.

    Outside 95 % by the exact test against the pooled rate: three of them.
    """
    groups = {
        "Chemical": (32, 122), "Physical": (35, 174), "Physics": (20, 76), "Humanities": (65, 396),
        "Technical": (43, 251), "Interdisciplinary": (29, 183), "Earth/life": (56, 282), "Social": (112, 834),
        "Medical": (75, 505),
    }  # fmt: skip
    some, of = (np.array(values, dtype=float) for values in zip(*groups.values(), strict=True))
    assert (some.sum(), of.sum()) == (467, 2823)
    rate = some.sum() / of.sum()
    low = comparison.lower_tail(some, of, np.full_like(some, rate), np.zeros_like(some))
    high = 1 - comparison.lower_tail(some - 1, of, np.full_like(some, rate), np.zeros_like(some))
    out = {name for name, left, right in zip(groups, low, high, strict=True) if 2 * min(left, right) < 0.05}
    assert out == {"Chemical", "Physics", "Social"}
    assert binom.cdf(112, 834, rate) == pytest.approx(low[list(groups).index("Social")])


def test_an_area_is_the_ratio_of_sums() -> None:
    """Bickel, Hammel and O'Connell 1975, Science 187:398: the mean of the departments' rates turns the order round."""
    men = [(512, 825), (353, 560), (120, 325), (138, 417), (53, 191), (22, 373)]
    women = [(89, 108), (17, 25), (202, 593), (131, 375), (94, 393), (24, 341)]
    pooled = [sum(a for a, _ in group) / sum(n for _, n in group) for group in (men, women)]
    means = [sum(a / n for a, n in group) / 6 for group in (men, women)]
    assert [round(value, 4) for value in (*pooled, *means)] == [0.4452, 0.3035, 0.3813, 0.4173]
    some, of = (np.array(values, dtype=float) for values in zip(*men, (0, 1), strict=True))
    assert comparison.others(some, of)[0][-1] == pytest.approx(pooled[0])  # what the last is held against


# The rule itself


def test_tails_are_scipys() -> None:
    some = np.array([0.0, 3.0, 4.0, 17.0, 0.0, 40.0])
    of = np.array([5.0, 17.0, 17.0, 17.0, 40.0, 40.0])
    rate = np.array([0.7, 0.71, 0.2, 0.71, 0.5, 0.9])
    spread = np.array([0.1, 0.07, 0.3, 0.05, 0.0, 0.0])
    a, b = rate * (1 / np.maximum(spread, 1e-12) - 1), (1 - rate) * (1 / np.maximum(spread, 1e-12) - 1)
    expected = [
        betabinom.cdf(x, n, p, q) if rho else binom.cdf(x, n, r)
        for x, n, p, q, rho, r in zip(some, of, a, b, spread, rate, strict=True)
    ]
    assert comparison.lower_tail(some, of, rate, spread) == pytest.approx(expected, rel=1e-9)


def test_others_leave_the_troop_out() -> None:
    """Each troop is held against the sums of the rest; equal shares have no spread."""
    some, of = np.array([1.0, 8.0, 16.0, 12.0]), np.array([20.0, 10.0, 20.0, 15.0])
    rate, spread = comparison.others(some, of)
    assert rate[0] == pytest.approx(36 / 45)
    assert rate[1] == pytest.approx(29 / 55)
    assert spread[0] == 0
    assert spread[1] > 0.2  # the first troop is among those it is held against


def test_nobody_elses_makes_nothing_impossible() -> None:
    """All other 30 take part: half a participant is kept in doubt, so that 4 of 5 is not a miracle."""
    some, of = np.array([4.0, 10.0, 10.0, 10.0]), np.array([5.0, 10.0, 10.0, 10.0])
    rate, spread = comparison.others(some, of)
    assert (rate[0], spread[0]) == (pytest.approx(30.5 / 31), 0)
    assert 0.05 < comparison.lower_tail(some, of, rate, spread)[0] < 0.1


def compared(shares: dict[str, tuple[int, int]], level: str = "younger") -> pa.Table:
    """Rows of measures.compared of one day."""
    rows = [
        {"as_of": DAY, "troop": troop, "level": level, "measure": "share", "some": some, "of": of, "average": None}
        for troop, (some, of) in shares.items()
    ]
    return pa.Table.from_pylist(rows)


def alike(count: int) -> dict[str, tuple[int, int]]:
    """Troops of 8 to 22, all near 71 %."""
    sizes = [8, 10, 12, 14, 17, 20, 22] * 9
    return {f"{place:04}": (round(0.71 * of), of) for place, of in enumerate(sizes[:count], 1)}


def test_few_of_many_are_named_few_of_few_are_not() -> None:
    """4 of 20 is out of line among 33 alike; 1 of 4 says nothing."""
    found = comparison.comparisons(compared({**alike(32), "small": (1, 4), "large": (4, 20)})).to_pylist()
    assert [row["troop"] for row in found if row["is_low"]] == ["large"]
    large = next(row for row in found if row["troop"] == "large")
    assert large["chance"] < 0.001
    assert 0.68 < large["expected"] < 0.72


def test_a_level_of_ten_is_compared_within_itself() -> None:
    """Ten troops of 30 % are in line with one another, though the area has 71 %; nine would be held against it."""
    for count, compared_with in ((10, "older"), (9, "")):
        older = compared({f"o{place}": (6, 20) for place in range(count)}, "older")
        found = comparison.comparisons(pa.concat_tables([compared(alike(24)), older])).to_pylist()
        assert {row["compared_with"] for row in found if row["troop"].startswith("o")} == {compared_with}
        assert {row["troops"] for row in found if row["troop"].startswith("o")} == {10 if count == 10 else 24 + count}
        if count == 10:
            assert not any(row["is_low"] for row in found)


def test_fewer_than_five_troops_are_not_compared() -> None:
    assert comparison.comparisons(compared({**alike(3), "x": (0, 20)})).num_rows == 0
    assert comparison.comparisons(compared({**alike(4), "x": (0, 20)})).num_rows == 5


# What it does in random areas


def areas(seed: int, deviation: float) -> tuple[Floats, Floats]:
    """1,000 areas of 34 troops of 4 to 40 participants; their rates 71 % with this deviation (a beta distribution)."""
    dice = np.random.default_rng(seed)
    of = dice.integers(4, 41, (AREAS, TROOPS)).astype(np.float64)
    if deviation:
        weight = 0.71 * 0.29 / deviation**2 - 1
        rate = dice.beta(0.71 * weight, 0.29 * weight, of.shape)
    else:
        rate = np.full_like(of, 0.71)
    return dice.binomial(of.astype(int), rate).astype(np.float64), of


def named(some: Floats, of: Floats) -> NDArray[np.bool_]:
    """Whom the rule calls, area by area, held against the whole area."""
    chances = comparison.lower_tail(some, of, *comparison.others(some, of))
    return comparison.adjusted(chances) <= comparison.FALSE_DISCOVERY


@pytest.mark.parametrize(("deviation", "most"), [(0.0, 0.05), (0.12, 0.10)])
def test_false_alarms(deviation: float, most: float) -> None:
    """One rate for all: at most 5 % of areas call anybody; a real spread of 0.12: at most 10 %."""
    for seed in (1, 2, 3):
        alarms = named(*areas(seed, deviation)).any(axis=1).mean()
        print(f"deviation {deviation}: {alarms:.1%} of areas call somebody")
        assert alarms <= most


def test_power() -> None:
    """One troop of 20 at a quarter of the area's rate is named in at least 90 % of areas."""
    for seed in (1, 2, 3):
        some, of = areas(seed, 0.0)
        of[:, 0] = 20
        some[:, 0] = np.random.default_rng(seed + 10).binomial(20, 0.71 / 4, AREAS)
        found = named(some, of)[:, 0].mean()
        print(f"named in {found:.1%} of areas")
        assert found >= 0.90


def test_left_in_the_troop_would_hide_itself() -> None:
    """Why the troop is left out: fitted with itself it would be named in fewer areas."""
    some, of = areas(1, 0.0)
    of[:, 0] = 20
    some[:, 0] = np.random.default_rng(11).binomial(20, 0.71 / 4, AREAS)
    zeros = np.zeros((AREAS, 1))
    rate, spread = (values[:, -1:] for values in comparison.others(np.hstack([some, zeros]), np.hstack([of, zeros])))
    with_itself = comparison.adjusted(comparison.lower_tail(some, of, rate, spread)) <= comparison.FALSE_DISCOVERY
    print(f"named in {with_itself[:, 0].mean():.1%} of areas")
    assert with_itself[:, 0].mean() < named(some, of)[:, 0].mean() - 0.05


def test_limits_hold_about_as_often_as_they_say() -> None:
    """Of troops whose rates spread by 0.12, about one in forty lies below the lower 95 % limit."""
    some, of = areas(4, 0.12)
    found = comparison.limits(of, *comparison.others(some, of))
    below = (some / of < found["low_95"]).mean()
    print(f"{below:.2%} lie below the lower limit; {norm.cdf(-1.96):.2%} would")
    assert 0.015 < below < 0.06
