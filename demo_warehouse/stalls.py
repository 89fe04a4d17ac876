"""The public stalls of one troop and week: where, when, what was sold, what was taken, who stood there.

Comes in: a troop's stockroom, the week, the troubles. Goes out: the rows of the Stalls sheet. What a stall takes is
what its packages cost, unless the table of troubles says otherwise.
"""

from collections import Counter
from datetime import timedelta
from random import Random

from demo_warehouse.records import Stall
from demo_warehouse.season import GIVEN, STOCKED, Season
from demo_warehouse.stockroom import Stockroom, worth
from demo_warehouse.troubles import Plan

STARTS = ("09:00", "09:30", "10:00", "11:00", "13:30", "15:00", "16:30", "")
USUAL = {"younger": 0.6, "middle": 0.9, "older": 1.3, "mixed": 1.0}  # stalls in a week


def stalls(stockroom: Stockroom, season: Season, week: int, rng: Random, plan: Plan) -> list[Stall]:
    """The week's stalls, on Saturday and Sunday, now and then on Friday afternoon."""
    workers = [family.code for family in stockroom.selling(season.ends(week).toordinal())]
    short = plan.at("stall_short", stockroom.code, week)
    gift = plan.at("gift_at_stall", stockroom.code, week)
    page = plan.at("stall_and_page", stockroom.code, week)
    is_asked = any((short, gift, page, plan.at("guest_at_stall", stockroom.code, week)))
    not_shown = (plan.at("about_to_run_out", stockroom.code, week), plan.of("slow_stock", stockroom.code))
    spared = {trouble.item for trouble in not_shown if trouble}
    if not workers or plan.of("tiny_troop", stockroom.code):
        return []
    held = []
    wanted = 0
    if 2 <= week < season.weeks or is_asked:
        often = USUAL[stockroom.troop.level] / 2 * min(1, len(workers) / 10)
        wanted = sum(rng.random() < often for _ in range(2))
    for k in range(max(wanted, 1 if is_asked else 0)):
        on = season.ends(week) - timedelta(days=(1, 0, 2)[rng.choices((0, 1, 2), (6, 3, 1))[0]])
        start, place = rng.choice(STARTS[:4] if k == 0 else STARTS[4:]), stockroom.troop.places[k]
        team = tuple(sorted(rng.sample(workers, min(len(workers), rng.randint(2, 5)))))
        packages = _sold(stockroom, rng, spared)
        if packages:
            held.append(_takings(Stall(on, start, place, packages, 0, 0, team), rng))
    if short and held and held[0].cash >= short.number:
        held[0].cash -= short.number
    if gift and held:
        held[0].gift = gift.number
    if page and held and stockroom.on_hand[page.item] >= page.number:
        of_page = {page.item: stockroom.take(page.item, page.number)}
        held[0].packages = dict(Counter(held[0].packages) + Counter(of_page))
        stockroom.sell(of_page)
    return held


def _sold(stockroom: Stockroom, rng: Random, spared: set[str]) -> dict[str, int]:
    """Up to half of what is there of each item but those that are spared."""
    part = rng.uniform(0.15, 0.45)
    packages: Counter[str] = Counter()
    for item in STOCKED:
        there = stockroom.on_hand[item.code]
        wanted = round(there * part * rng.uniform(0.5, 1.4))
        wanted = min(wanted, 9, there // 2)
        if wanted and item.code not in spared:
            packages[item.code] = stockroom.take(item.code, wanted)
    if packages and rng.random() < 0.4:
        packages[GIVEN] = rng.randint(1, 4)
    stockroom.sell(packages)
    return dict(packages)


def _takings(stall: Stall, rng: Random) -> Stall:
    """What the packages cost, some of it by card, in steps of half a dollar."""
    total = worth(stall.packages)
    stall.card = int(total * rng.uniform(0.15, 0.55)) // 50 * 50
    stall.cash = total - stall.card
    return stall
