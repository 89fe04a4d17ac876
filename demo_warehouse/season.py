"""The invented season: its goods, prices, calendar, proceeds and due dates.

Comes in: how many weeks it runs. Goes out: a Season, and its season.toml as text.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

FIRST_DAY = date(2027, 2, 8)  # a Monday; every week ends on a Sunday
TITLE = "Heron Vale spring bulb and seed sale"
AREA = "Heron Vale area"
SETTLE_DAYS = 5
ANSWER_WITHIN_DAYS = 6
SHIP_MINIMUM = 3


@dataclass(frozen=True, slots=True)
class Item:
    """One kind of package: its price in cents, and how much of what is bought it makes up (`popularity`).

    `box_of`: packages that it counts as in the post, where it is a gift box.
    """

    code: str
    title: str
    cents: int
    per_case: int
    popularity: float
    is_stocked: bool = True
    box_of: int = 1


ITEMS = (
    Item("GLA", "Gladiolus bulbs, bag of ten", 700, 12, 0.20),
    Item("DAH", "Dahlia tubers, bag of three", 850, 12, 0.18),
    Item("LIL", "Lily bulbs, bag of five", 800, 12, 0.13),
    Item("ANE", "Anemone corms, bag of twenty", 550, 12, 0.09),
    Item("MDW", "Meadow seed mix", 550, 12, 0.15),
    Item("HRB", "Kitchen herb kit", 900, 10, 0.12),
    Item("SUN", "Giant sunflower kit", 750, 10, 0.13),
    Item("GDN", "A bag for a community garden", 600, 12, 0.0, is_stocked=False),
    Item("BOX", "Gift box of four bags", 3150, 12, 0.0, is_stocked=False, box_of=4),
)
STOCKED = tuple(item for item in ITEMS if item.is_stocked)
CENTS = {item.code: item.cents for item in ITEMS}
PER_CASE = {item.code: item.per_case for item in ITEMS}
BOX_OF = {item.code: item.box_of for item in ITEMS}
GIVEN, GIFT_BOX = "GDN", "BOX"

VEHICLES = (("Van", 90, 8), ("Trailer", 60, 6), ("Estate car", 25, 4))  # of each kind: cases it carries, how many

TIERS = ((0, "0.65"), (25, "0.75"), (40, "0.85"))  # packages sold per participant taking part, at least; rate in USD
DUE_SHARES = ("0.25", "0.45", "0.55", "1")


@dataclass(frozen=True, slots=True)
class Award:
    """A badge by steps, or an award by packages; what it costs in cents."""

    code: str
    title: str
    steps: int = 0
    packages: int = 0
    levels: tuple[str, ...] = ()
    after: str = ""
    near: int = 5
    cents: int = 0
    in_stock: int = 0


POSTAGE = ((4, 640), (9, 985), (16, 1360))  # up to so many packages: cents
FAR = 275
BADGES = (
    Award("GROW1", "Grower, first year", steps=5, levels=("younger", "middle"), cents=140, in_stock=20),
    Award("GROW2", "Grower, second year", steps=4, levels=("younger", "middle"), after="GROW1", cents=140),
    Award("SPADE", "Spade pin", packages=25, near=4, cents=95, in_stock=30),
    Award("CAN", "Watering can", packages=60, after="SPADE", near=6, cents=325, in_stock=4),
)


def postage(packages: int, *, is_far: bool) -> int:
    """What an order costs to send, in cents."""
    top, price = POSTAGE[-1]
    whole, rest = divmod(packages, top)
    tier = next(cents for up_to, cents in POSTAGE if up_to >= rest) if rest else 0
    return whole * price + tier + (FAR if is_far else 0)


@dataclass(frozen=True, slots=True)
class Due:
    """A day on which `share` of what the troop owes for its goods, as of `cutoff`, must have been paid."""

    on: date
    share: str
    cutoff: date


@dataclass(frozen=True, slots=True)
class Season:
    """The calendar of a season of so many weeks; weeks are counted from 1."""

    weeks: int

    def starts(self, week: int) -> date:
        """The Monday of a week."""
        return FIRST_DAY + timedelta(days=7 * (week - 1))

    def ends(self, week: int) -> date:
        """The Sunday of a week."""
        return FIRST_DAY + timedelta(days=7 * week - 1)

    def week_of(self, day: date) -> int:
        """The number of the week that holds a day (1 or more; days before the season are in week 1)."""
        return max(1, (day - FIRST_DAY).days // 7 + 1)

    def dues(self) -> tuple[Due, ...]:
        """Four Tuesdays spread over the season, fewer where it is short; the second has a cutoff two days before."""
        share_in_week = {-(-self.weeks * k // 10): share for k, share in zip((4, 6, 8, 10), DUE_SHARES, strict=True)}
        days = [(self.ends(week) - timedelta(days=5), share) for week, share in sorted(share_in_week.items())]
        return tuple(Due(on, share, on - timedelta(days=2) if k == 1 else on) for k, (on, share) in enumerate(days))

    def demand(self, week: int) -> float:
        """The part of a season's packages that families take in a week: brisk at first, fading to the end."""
        weights = [self.weeks - k + 4 for k in range(1, self.weeks + 1)]
        return weights[week - 1] / sum(weights)


def dice(*named: object) -> Random:
    """Random numbers that are the same for the same names: a seed, a troop, a week."""
    return Random("/".join(str(name) for name in named))  # noqa: S311 (an invented season, no secret)


def dollars(cents: int) -> str:
    """Cents as dollars with two decimals: -350 is "-3.50"."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def _award(badge: Award) -> list[str]:
    lines = ["", "[[awards]]", f'code = "{badge.code}"', f'title = "{badge.title}"']
    lines += [f"steps = {badge.steps}"] if badge.steps else [f"packages = {badge.packages}", f"near = {badge.near}"]
    levels = ", ".join(f'"{level}"' for level in badge.levels)
    lines += [f"levels = [{levels}]"] if levels else []
    lines += [f'after = "{badge.after}"'] if badge.after else []
    return [*lines, f'cost = "{dollars(badge.cents)}"', f"in_stock = {badge.in_stock}"]


def season_toml(season: Season) -> str:
    """The rules of the season as the book keeps them."""
    lines = [
        "[season]",
        f'title = "{TITLE}"',
        f'area = "{AREA}"',
        f"first_day = {FIRST_DAY}",
        f"last_day = {season.ends(season.weeks)}",
        'week_ends_on = "sunday"',
        'currency = "USD"',
        f"settle_days = {SETTLE_DAYS}  # a collection needs this long to clear",
        'coordinator = "Wren Alderby"  # signs the letters to leaders',
        'phone = "555 0142"',
    ]
    for item in ITEMS:
        lines += ["", "[[items]]", f'code = "{item.code}"', f'title = "{item.title}"']
        lines += [f'price = "{dollars(item.cents)}"', f"packages_per_case = {item.per_case}"]
        lines += [] if item.is_stocked else ["stocked = false  # the organisation fulfils it, no troop holds it"]
        lines += [f"box_of = {item.box_of}  # counts as so many packages in the post"] if item.box_of > 1 else []
    lines += ["", "[proceeds]", 'per = "taking_part"']
    for from_average, rate in TIERS:
        lines += ["", "[[proceeds.tiers]]", f"from_average = {from_average}", f'rate = "{rate}"']
    for due in season.dues():
        lines += ["", "[[dues]]", f"on = {due.on}", f'share = "{due.share}"']
        lines += [f"cutoff = {due.cutoff}"] if due.cutoff != due.on else []
    lines += ["", "[online]", f"ship_minimum = {SHIP_MINIMUM}", f"answer_within_days = {ANSWER_WITHIN_DAYS}"]
    lines += ["answer_until = 18:00:00", f'far = "{dollars(FAR)}"']
    for up_to, cents in POSTAGE:
        lines += ["", "[[online.postage]]", f"up_to = {up_to}", f'price = "{dollars(cents)}"']
    lines += ["", "[stalls]", 'credit = "equal"']
    for badge in BADGES:
        lines += _award(badge)
    lines += ["", "[plan]", f"order_until = {season.ends(max(1, season.weeks - 2)) - timedelta(days=2)}"]
    lines += ["", "[plan.delivery]", f"on = {FIRST_DAY - timedelta(days=3)}", "doors = 2"]
    lines += ["minutes_a_vehicle = 10", 'minutes_a_case = "0.5"']
    return "\n".join(lines) + "\n"
