"""An area's rate is the ratio of sums, never the mean of rates; and what sell-through divides by.

Source: P. J. Bickel, E. A. Hammel, J. W. O'Connell, "Sex bias in graduate admissions", Science 187 (1975) 398-404 (from
memory), by the counts of R's data set UCBAdmissions: six departments, admitted of applicants.
"""

from decimal import Decimal

import pytest
from trial import W1, Trial

from pipelines.definitions import measures

DEPARTMENTS = {  # men admitted, of applicants; women admitted, of applicants
    "A": (512, 825, 89, 108), "B": (353, 560, 17, 25), "C": (120, 325, 202, 593),
    "D": (138, 417, 131, 375), "E": (53, 191, 94, 393), "F": (22, 373, 24, 341),
}  # fmt: skip
POOLED = {"GLA": 0.4452, "HRB": 0.3035}
MEANS = {"GLA": 0.3813, "HRB": 0.4173}  # the order turns round


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    """A troop for each department: applicants are packages supplied of two items, the admitted were sold."""
    one = Trial(tmp_path_factory.mktemp("sums"))
    supply = ["document troop item date packages kind"]
    families = ["troop week_ending participant item packages"]
    for troop, (men, of_men, women, of_women) in DEPARTMENTS.items():
        for item, sold, of in (("GLA", men, of_men), ("HRB", women, of_women)):
            supply.append(f"D{troop} {troop} {item} 2027-02-08 {of} opening")
            families.append(f"{troop} {W1} {troop}-1 {item} {sold}")
    one.send(
        troops="\n".join(["troop level", *(f"{troop} older" for troop in DEPARTMENTS)]),
        supply="\n".join(supply),
        families="\n".join(families),
    )
    return one


def test_an_areas_rate_is_the_ratio_of_sums(trial: Trial) -> None:
    with trial.asked("item_totals", "area", days=[W1]) as figures:
        found = {row["item"]: row["sell_through"] for row in figures.rows("item_totals", W1)}
        area = figures.rows("area", W1)[-1]["sell_through"]
    assert {item: round(found[item], 4) for item in POOLED} == POOLED
    sold = sum(men + women for men, _of, women, _of_women in DEPARTMENTS.values())
    assert area == sold / sum(of_men + of_women for _men, of_men, _women, of_women in DEPARTMENTS.values())


def test_the_mean_of_rates_would_turn_the_order_round(trial: Trial) -> None:
    """What the tool does not show: the mean of the troops' own rates, item by item."""
    lines = trial.table("items", W1)
    for item, mean in MEANS.items():
        rates = [Decimal(lines[troop, item]["sell_through"]) for troop in DEPARTMENTS]
        assert round(float(sum(rates)) / len(rates), 4) == mean


def test_sell_through_says_what_it_divides_by(tmp_path_factory: pytest.TempPathFactory) -> None:
    """By what is available. Public pages differ: the opening stock, all that was received, or sold and on hand.

    No textbook example was found, so this is a definition held to itself and against the three others.
    """
    one = Trial(tmp_path_factory.mktemp("sell-through"))
    one.send(
        troops="troop level\n0417 older",
        supply="""
        document  troop  item  date        packages  kind
        D1        0417   GLA   2027-02-08  60        opening
        D2        0417   GLA   2027-02-10  40        depot
        D3        0417   GLA   2027-02-12  20        returned""",
        families="troop week_ending participant item packages\n0417 2027-02-14 0417-01 GLA 30",
        stock="troop week_ending item damaged on_hand\n0417 2027-02-14 GLA 2 45",
    )
    found = one.standing("0417", W1)["sell_through"]
    others = {"by opening": 30 / 60, "by received": 30 / 100, "by sold and on hand": 30 / 75}
    assert found == f"{30 / 80:.6f}"
    assert float(found) not in others.values()
    assert "available" in measures.measure("standing", "sell_through").divides_by
