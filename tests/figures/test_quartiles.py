"""What one troop may learn of the others, and what it may not work out."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from trial import W1, Trial

from pipelines.figures.quartiles import FEWEST, Quartiles, quartiles
from pipelines.figures.viewer import Viewer

STEP = Fraction(1, 50)
TENTHS = [place / 10 for place in range(11)]


def test_quartiles_of_eleven_troops() -> None:
    """0.0, 0.1 ... 1.0: the mean of three neighbours, rounded to 0.02. Worked out by hand."""
    assert quartiles(TENTHS, STEP) == Quartiles(0.2, 0.5, 0.8, 11)


@pytest.mark.parametrize("others", [[], TENTHS[:9], [*TENTHS[:9], None, None]])
def test_of_fewer_than_ten_nothing_is_shown(others: list[float | None]) -> None:
    assert quartiles(others, STEP) is None


def test_where_most_are_alike_nothing_is_shown() -> None:
    """Else it would be known of most troops what their value is."""
    assert quartiles([0.5] * 12, STEP) is None
    assert quartiles([0.1, 0.2, *[0.5] * 20, 0.9], STEP) is None


@given(st.lists(st.floats(0, 1), min_size=FEWEST, max_size=40, unique=True))
def test_no_quartile_is_a_troops_own_value_but_by_rounding(others: list[float]) -> None:
    """Another value of one troop moves a quartile by a third of the difference at most, and a rounding."""
    shown = quartiles(others, STEP)
    for place in range(len(others)):
        moved = quartiles([*others[:place], *others[place + 1 :], min(1.0, others[place] + 0.01)], STEP)
        if shown and moved:
            for one, other in ((shown.lower, moved.lower), (shown.median, moved.median), (shown.upper, moved.upper)):
                assert abs(one - other) <= 0.01 / 3 + 0.02 + 1e-9


def test_own_troops_do_not_count_among_the_others(trial: Trial) -> None:
    """Three troops: nothing of the others is told to any of their leaders."""
    with trial.asked("standing", days=[W1], viewer=Viewer("leader", frozenset({"0417"}))) as figures:
        assert figures.quartiles(W1) == {}
