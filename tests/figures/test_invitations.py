"""People told against orders: by hand, against the jackknife, and what others may see of it."""

import random

import pytest
from scipy.stats import t

from pipelines.figures.invitations import ALL, for_others, invitations


def pages(picture: str, *told_and_ordered: tuple[int, int]) -> list[dict[str, object]]:
    return [{"own_picture": picture, "people_told": told, "orders": orders} for told, orders in told_and_ordered]


def test_by_hand() -> None:
    """Six pages, 60 told, 12 orders: 2 for ten told; a page that nobody was told of counts nowhere."""
    found = invitations(pages("still", *[(10, 2)] * 6, (0, 5)) + pages("no", (20, 1)))
    still = found["still"]
    assert (still.pages, still.told, still.orders, still.for_ten, still.low, still.high) == (6, 60, 12, 2.0, 2.0, 2.0)
    assert (found["no"].for_ten, found["no"].low) == (0.5, None)
    assert (found[ALL].pages, found[ALL].orders) == (7, 13)


def test_the_interval_is_near_the_jackknife() -> None:
    """Leaving out one page at a time gives the same spread but for a few per cent, with many pages."""
    dice = random.Random(5)  # noqa: S311 - dice for a test
    rows = pages("film", *[(told, sum(dice.random() < 0.3 for _ in range(told)))
                           for told in (dice.randint(3, 40) for _ in range(120))])  # fmt: skip
    one = invitations(rows)["film"]
    whole = [(row["people_told"], row["orders"]) for row in rows]
    people, orders = sum(p for p, _ in whole), sum(o for _, o in whole)  # type: ignore[misc]
    without = [10 * (orders - o) / (people - p) for p, o in whole]  # type: ignore[operator]
    middle = sum(without) / len(without)
    error = ((len(without) - 1) / len(without) * sum((w - middle) ** 2 for w in without)) ** 0.5
    reach = t.ppf(0.975, len(without) - 1) * error
    assert one.high - one.for_ten == pytest.approx(reach, rel=0.05)  # type: ignore[operator]


@pytest.mark.parametrize(
    ("counts", "shown"),
    [
        ({"no": 9, "still": 8, "film": 7}, {"no", "still", "film", ALL}),
        ({"no": 9, "still": 8, "film": 2}, {"no", ALL}),  # the sum would tell of two films: the still ones go too
        ({"no": 9, "still": 3, "film": 2}, {"no", ALL}),
        ({"no": 4}, set()),
    ],
)
def test_no_kind_of_few_pages_is_told_or_can_be_worked_out(counts: dict[str, int], shown: set[str]) -> None:
    rows = [row for picture, many in counts.items() for row in pages(picture, *[(4, 1)] * many)]
    assert set(for_others(invitations(rows))) == shown
