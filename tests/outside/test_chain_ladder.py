"""The outlook against the chain ladder: what is known of a row, made larger by how the rows before it went on.

Source: Mack 1993, "Distribution-free calculation of the standard error of chain ladder reserve estimates", ASTIN
Bulletin 23, on the triangle of Taylor and Ashe 1983. The paper was not read here: triangle, factors and estimates are
what the library chainladder 0.10.1 gave for them (its sample `genins`, `sigma_interpolation="mack"`: 18,680,856 in all,
standard error 2,447,095); the totals are the published ones, from memory. The library itself is no part of the tests:
it asks for 350 MB more. Its standard error has nothing here to be held against: our ranges are of another kind.

A row is a troop, a column a week, what goes out of stock the amount. Without fading and without leaning on the area
our rule is the chain ladder, so its estimates must come out of it; with both it is the chain ladder where a season goes
as the one before, and else lies between a troop's own chain ladder and the area's, by the weight said for it.
"""

import numpy as np
import pytest

from pipelines.figures import outlook as tool
from pipelines.figures.outlook import Floats, LastSeason, Season, outlook

TAYLOR_ASHE = [
    [357848, 766940, 610542, 482940, 527326, 574398, 146342, 139950, 227229, 67948],
    [352118, 884021, 933894, 1183289, 445745, 320996, 527804, 266172, 425046],
    [290507, 1001799, 926219, 1016654, 750816, 146923, 495992, 280405],
    [310608, 1108250, 776189, 1562400, 272482, 352053, 206286],
    [443160, 693190, 991983, 769488, 504851, 470639],
    [396132, 937085, 847498, 805037, 705960],
    [440832, 847631, 1131398, 1063269],
    [359480, 1061648, 1443370],
    [376686, 986608],
    [344014],
]
FACTORS = [3.4906, 1.7473, 1.4574, 1.1739, 1.1038, 1.0863, 1.0539, 1.0766, 1.0177]
STILL_TO_COME = [0, 94634, 469511, 709638, 984889, 1419459, 2177641, 3920301, 4278972, 4625811]
IN_ALL = 18_680_856


def chain_ladder(before: Floats, known: Floats) -> Floats:
    """What is still to come of each row: the formula, column by column. `before`: rows known to the end."""
    grown = before.cumsum(axis=1).sum(axis=0)
    still = known.sum(axis=1)
    for column in range(known.shape[1], before.shape[1]):
        still = still * grown[column] / grown[column - 1]
    return np.asarray(still - known.sum(axis=1))


def ours(before: Floats, known: Floats, size_before: Floats, size: Floats) -> tuple[tool.Outlook, Floats]:
    """The outlook of troops whose weeks were all sent, in an area whose season before is known, and what is to come."""
    season = Season(
        before.shape[1],
        known.shape[1],
        known[:, :, None],
        np.ones(known.shape, dtype=np.bool_),
        size,
        np.full(len(known), np.nan),
        LastSeason(before, size_before),
    )
    found = outlook(season)
    assert found is not None
    return found, found.mean(found.left())


@pytest.fixture
def no_fading(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each week counts alike, and the area's growth does not lean towards none."""
    monkeypatch.setattr(tool, "FADING", {True: 1.0})
    monkeypatch.setattr(tool, "LEANING", {True: 0.0})


@pytest.fixture
def no_area(no_fading: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor does a troop lean on the area."""
    monkeypatch.setattr(tool, "AREAS_WEEKS", 0)


def random_area(seed: int) -> tuple[Floats, Floats, Floats, Floats]:
    """A season before, the weeks known of this one, and participants in both."""
    dice = np.random.default_rng(seed)
    weeks, troops = int(dice.integers(4, 13)), int(dice.integers(1, 40))
    before = dice.integers(20, 200, (int(dice.integers(1, 40)), weeks)).astype(np.float64)
    known = dice.integers(0, 300, (troops, int(dice.integers(1, weeks)))).astype(np.float64)
    return before, known, dice.integers(4, 40, len(before)).astype(float), dice.integers(4, 40, troops).astype(float)


@pytest.mark.usefixtures("no_area")
def test_the_published_triangle() -> None:
    """Row by row, the rows before it as our outlook completed them, as the chain ladder's own factors have them."""
    rows, to_come = [np.array(TAYLOR_ASHE[0], dtype=np.float64)], [0.0]
    for row in TAYLOR_ASHE[1:]:
        known = np.array([row], dtype=np.float64)
        found, still = ours(np.array(rows), known, np.ones(len(rows)), np.ones(1))
        parts = found.season.shape[len(row) :] / found.season.shape[len(row) :].sum()
        rows.append(np.concatenate([known[0], float(still[0]) * parts]))
        to_come.append(float(still[0]))
    grown = np.array(rows).cumsum(axis=1).sum(axis=0)
    assert grown[1:] / grown[:-1] == pytest.approx(FACTORS, abs=5e-5)
    assert [round(one) for one in to_come] == STILL_TO_COME
    assert round(sum(to_come)) == IN_ALL


@pytest.mark.usefixtures("no_area")
@pytest.mark.parametrize("seed", range(20))
def test_any_area_without_fading_or_leaning(seed: int) -> None:
    """Each troop's rest of the season, within a billionth."""
    before, known, size_before, size = random_area(seed)
    _found, still = ours(before, known, size_before, size)
    assert still == pytest.approx(chain_ladder(before, known), rel=1e-9)


@pytest.mark.usefixtures("no_fading")
@pytest.mark.parametrize("seed", range(20))
def test_leaning_weighs_a_troops_own_chain_ladder_and_the_areas(seed: int) -> None:
    """Two average weeks of the area's word: a troop's own counts by the part of the season seen, the area's by 2/W.

    The area's is the chain ladder of all troops together, given to each by its participants.
    """
    before, known, size_before, size = random_area(seed)
    _found, still = ours(before, known, size_before, size)
    seen = before[:, : known.shape[1]].sum() / before.sum()
    own = seen / (seen + 2 / before.shape[1])
    areas = chain_ladder(before, known.sum(axis=0, keepdims=True)) * size / size.sum()
    assert still == pytest.approx(own * chain_ladder(before, known) + (1 - own) * areas, rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_as_it_stands_where_a_season_goes_as_the_one_before(seed: int) -> None:
    """Fading and leaning as they are used: troops that sell by their size, in the shape of last season's weeks."""
    before, known, size_before, size = random_area(seed)
    a_participant = before.sum() / size_before.sum()
    known = size[:, None] * a_participant * before.sum(axis=0)[: known.shape[1]] / before.sum()
    found, still = ours(before, known, size_before, size)
    assert found.growth == pytest.approx(1)
    assert still == pytest.approx(chain_ladder(before, known), rel=1e-9)
