"""The participation interval against published 95 % Wilson score intervals, through the whole tool.

Sources: R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17 (1998)
857-872, Table I, method 3 (score, no continuity correction). UK Health Security Agency, test sheet of the R package
PHEindicatormethods 2.1.0, a few rows restated.
"""

import pytest
from trial import W1, Lines, Trial

from pipelines.definitions.limits import MOST_PARTICIPANTS

PUBLISHED = [
    # taking part, registered, lower, upper, decimals published
    (81, 263, 0.2553, 0.3662, 4),  # Newcombe
    (15, 148, 0.0624, 0.1605, 4),
    (0, 20, 0, 0.1611, 4),
    (1, 29, 0.0061, 0.1718, 4),
    (65, 100, 0.552544, 0.736358, 6),  # UKHSA
    (1045, 5000, 0.197955, 0.220491, 6),
]


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Lines:
    """A troop for each published row, with as many registered, and as many of them at a stall."""
    trial = Trial(tmp_path_factory.mktemp("intervals"))
    roster, stalls = (
        ["troop participant registered_on left_on contact_on_file"],
        ["troop week_ending date place item packages participants"],
    )
    for active, registered, *_ in PUBLISHED:
        people = [f"{registered}-{number}" for number in range(registered)]
        roster += [f"{registered} {code} 2026-10-01 - yes" for code in people]
        for place, first in enumerate(range(0, active, MOST_PARTICIPANTS)):
            worked = ",".join(people[first : min(active, first + MOST_PARTICIPANTS)])
            stalls.append(f"{registered} {W1} {W1} place-{place} - - {worked}")
    trial.send(roster="\n".join(roster), stalls="\n".join(stalls))
    return trial.table("standing", W1)


@pytest.mark.parametrize(("active", "registered", "low", "high", "decimals"), PUBLISHED)
def test_wilson_intervals(
    standing: Lines, active: int, registered: int, low: float, high: float, decimals: int
) -> None:
    line = standing[str(registered), str(W1)]
    assert (line["taking_part"], line["registered"]) == (str(active), str(registered))
    assert round(float(line["share_low"]), decimals) == low
    assert round(float(line["share_high"]), decimals) == high
