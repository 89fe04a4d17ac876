"""The outlook: worked numbers, plain loops over random seasons, published quantiles, and what a book shows of it."""

import os

import numpy as np
import pytest
import season_files
import seasons
from oracle import Oracle
from plain_outlook import held_of, outlook_of, quantile
from scipy.stats import nbinom
from trial import Trial

from pipelines.figures import outlook as tool
from pipelines.figures.outlook import LastSeason, Outlook, Season
from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back

BEFORE = {"A": ({1: 40, 2: 90, 3: 130, 4: 150}, 10), "B": ({1: 20, 2: 30, 3: 45, 4: 50}, 5)}
NOW = {"A": 12, "B": 5, "C": 6}
SENT = {("A", 1): (30, 18), ("A", 2): (40, 20), ("B", 1): (4, 11)}  # GLA, SUN
FIRST = int(os.environ.get("MUSTERBOOK_FIRST_SEASON", "200"))
SEASONS = range(FIRST, FIRST + int(os.environ.get("MUSTERBOOK_SEASONS", "2")))


def worked(week: int, *, before: bool = True, sent: bool = True, ran_out: bool = False) -> Outlook | None:
    """The small area of three troops and two items as of a week's end."""
    sold, was_sent = np.zeros((3, week, 2)), np.zeros((3, week), dtype=np.bool_)
    for (troop, number), packages in SENT.items() if sent else ():
        if number <= week:
            sold["ABC".index(troop), number - 1] = packages
            was_sent["ABC".index(troop), number - 1] = True
    out = np.zeros(sold.shape, dtype=np.bool_)
    if ran_out:
        out[1, 0, 0] = True
    last = LastSeason.of_points([one for one, _p in BEFORE.values()], [p for _o, p in BEFORE.values()], 4)
    own = np.array([15.0, 10.0, np.nan] if before else [np.nan] * 3)
    season = Season(4, week, sold, was_sent, np.array([12.0, 5, 6]), own, last if before else None, (0.0, 0.0), out)
    return tool.outlook(season)


def shown(found: Outlook) -> dict[str, tuple[float, int, int]]:
    """Mean and range by troop, troop and item, item, and area."""
    means = found.mean(found.left())
    by_item = means[:, None] * found.mix
    told = {}

    def tell(names: list[str], mean: np.ndarray, variance: np.ndarray) -> None:
        low, high = (tool.quantile(chance, mean, variance) for chance in (0.1, 0.9))
        for name, *row in zip(names, np.ravel(mean), np.ravel(low), np.ravel(high), strict=True):
            told[name] = (round(float(row[0]), 4), int(row[1]), int(row[2]))

    tell(list("ABC"), means, found.troop_variance(means))
    tell([f"{troop} {item}" for troop in "ABC" for item in ("GLA", "SUN")], by_item, found.troop_variance(by_item))
    tell(["GLA", "SUN"], by_item.sum(axis=0), found.area_item_variance(by_item))
    tell(["area"], means.sum()[None], found.area_variance(means)[None])
    return told


def certain(found: Outlook | None) -> Outlook:
    assert found is not None
    return found


def test_worked_after_two_weeks() -> None:
    """A season of four weeks, the second week of one troop not sent."""
    found = certain(worked(2))
    assert found.season.shape == pytest.approx([0.3, 0.3, 0.275, 0.125])
    assert found.season.size == pytest.approx([170, 58.3333, 80], abs=1e-4)
    assert found.growth == pytest.approx(119.516667 / 114.366667, rel=1e-6)
    assert found.level == pytest.approx([180.6214, 57.7184, 83.6024], abs=5e-5)
    assert (found.own_spread, found.tries) == (pytest.approx(0.416667, abs=5e-7), 6)
    assert found.area_spread_squared**0.5 == pytest.approx(0.274095, abs=5e-7)
    told = shown(found)
    assert told["A"] == (72.2486, 26, 128)
    assert told["A GLA"] == (45.1553, 15, 83)
    assert told["B"] == (23.0874, 6, 45)
    assert told["C"] == (33.4410, 10, 63)
    assert told["area"] == (128.7769, 63, 205)
    assert told["GLA"] == (78.0686, 30, 136)


def test_worked_after_one_week() -> None:
    found = certain(worked(1))
    assert found.own_spread == pytest.approx(0.428571, abs=5e-7)
    assert found.area_spread_squared**0.5 == pytest.approx(0.346410, abs=5e-7)
    assert (shown(found)["A"], shown(found)["area"]) == ((111.5004, 39, 201), (200.8032, 92, 328))


def test_worked_without_a_last_season() -> None:
    found = certain(worked(2, before=False))
    assert found.level == pytest.approx([218.4251, 83.4146, 107.1220], abs=5e-5)
    assert found.own_spread == pytest.approx(0.483871, abs=5e-7)
    assert found.area_spread_squared**0.5 == pytest.approx(0.55)
    assert (shown(found)["A"], shown(found)["area"]) == ((109.2125, 24, 221), (204.4808, 63, 383))


def test_worked_where_an_item_ran_out() -> None:
    """More might have gone: the week counts as the troop's level would have it."""
    assert shown(certain(worked(2, ran_out=True)))["B"] == (26.7898, 7, 51)


def test_worked_before_the_season_and_at_its_end() -> None:
    assert shown(certain(worked(0, sent=False)))["A"] == (170, 62, 301)
    assert set(shown(certain(worked(4))).values()) == {(0, 0, 0)}
    assert worked(2, before=False, sent=False) is None


@pytest.mark.parametrize(
    ("takings", "at_a_time"), [([1, 1, 2, 3, 12], 12.552632), ([1, 2, 3], 4), ([], 6), ([30, 30], 24)]
)
def test_packages_at_a_time(takings: list[int], at_a_time: float) -> None:
    sums = (float(sum(takings)), float(sum(one * one for one in takings)))
    season = Season(4, 0, np.zeros((0, 0, 1)), np.zeros((0, 0), np.bool_), np.zeros(0), np.zeros(0), None, sums)
    assert season.at_a_time == pytest.approx(at_a_time, abs=5e-7)


def test_quantiles_are_those_of_a_library() -> None:
    """Negative binomial of mean 10 and variance 85: 1 and 22; 20,000 by chance as scipy.stats.nbinom gives them."""
    assert (tool.quantile(0.1, np.array(10.0), np.array(85.0)), tool.quantile(0.9, np.array(10.0), np.array(85.0))) == (
        1,
        22,
    )
    dice = np.random.default_rng(5)
    mean = np.exp(dice.uniform(-6, 9, 20_000))
    variance = mean * np.exp(dice.uniform(-0.1, 6, 20_000))
    chance = dice.choice([0.1, 0.2, 0.5, 0.9], 20_000)
    wide = np.maximum(variance, 1.0001 * mean + 1e-9)
    expected = nbinom.ppf(chance, mean**2 / (wide - mean), mean / wide)
    for one in np.unique(chance):
        some = chance == one
        assert (tool.quantile(float(one), mean[some], variance[some]) == expected[some]).all()


@pytest.mark.parametrize("seed", SEASONS)
def test_random_seasons_as_plain_loops_have_them(seed: int, new_trial: object) -> None:
    """Every mean and range of every week, of a book taken in from files."""
    made = seasons.make(seed, troops=6)
    if seed % 2:
        made.tables["last_season"] = []
    else:
        made.tables["troops"][0]["closed_on"] = made.weeks[2]
    trial: Trial = new_trial(made.text)  # type: ignore[operator]
    season_files.write_csvs(trial.folder / "in", made.tables)
    trial.take_in(trial.folder / "in")
    compared, plains = 0, []
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        for day in made.weeks:
            plain = outlook_of(Oracle(made.rules, made.tables), made.tables["last_season"], made.weeks, day)
            plains.append(plain)
            rows = figures.rows("outlook", day)
            assert bool(rows) == plain.known
            if not rows:
                continue
            rest, coming = plain.rows(), plain.rows(plain.w + 1, min(plain.w + 1, plain.W))
            assert {(row["troop"], row["item"]) for row in rows} == rest.keys()
            for row in rows:
                key = row["troop"], row["item"]
                assert row["mean"] == pytest.approx(rest[key][0], rel=1e-9, abs=1e-12)
                assert (row["low"], row["high"]) == tuple(quantile(chance, *rest[key]) for chance in (0.1, 0.9)), key
                assert row["next_middle"] == quantile(0.5, *coming[key]), key
                compared += 4
        held = {
            (row["week"], row["span"], row["level"]): [row[name] for name in ("tried", "held", "above", "below")]
            for row in figures.rows("outlook_held", made.weeks[-1])
        }
    assert compared > 100
    assert held == held_of(plains, plains[-1].items) != {}
