"""Packages as cases and loose ones: added, never guessed."""

import pytest

from pipelines.intake.judging.cases_and_loose import opened


@pytest.mark.parametrize(
    ("cell", "packages"),
    [
        ("2c+3", 27), ("2c", 24), ("2C + 3", 27), (" 2 c+3 ", 27), ("0c+3", 3), ("-2c", -24),
        ("-2c+3", "-2c+3"), ("2c-3", "2c-3"), ("c+3", "c+3"), ("2c+", "2c+"), ("3+2c", "3+2c"), ("2.5c", "2.5c"),
        ("2 cases", "2 cases"), ("27", "27"), (27, 27), (None, None), ("2c+3c", "2c+3c"), ("2ct+3", "2ct+3"),
    ],
)  # fmt: skip
def test_what_a_cell_of_twelve_to_a_case_states(cell: object, packages: object) -> None:
    assert opened(cell, 12) == packages
