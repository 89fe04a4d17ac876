"""Who is there: the area's troops, their leaders and participants. Participants are codes, leaders' names invented.

Comes in: how many troops, the seed, the troubles. Goes out: a list of Troop.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

from demo_warehouse.season import FIRST_DAY, Season, dice
from demo_warehouse.troubles import Plan

# The demo area: code, level, participants.
TROOPS = (
    ("0117", "younger", 22), ("0232", "younger", 14), ("0305", "middle", 26), ("0417", "middle", 19),
    ("0448", "younger", 17), ("0563", "older", 12), ("0671", "mixed", 31), ("0726", "younger", 24),
    ("0854", "middle", 16), ("0909", "older", 9), ("1043", "younger", 20), ("1128", "middle", 23),
    ("1277", "younger", 12), ("1390", "older", 15), ("1462", "middle", 28), ("1519", "younger", 27),
    ("1684", "older", 8), ("1755", "middle", 13), ("1831", "younger", 40), ("1926", "older", 18),
    ("2048", "middle", 21), ("2173", "younger", 4), ("2260", "middle", 11), ("2345", "older", 6),
    ("2436", "younger", 16), ("2588", "mixed", 10), ("2691", "younger", 19), ("2734", "middle", 17),
    ("2862", "older", 14), ("2905", "younger", 25), ("3016", "middle", 9), ("3184", "younger", 18),
    ("3257", "middle", 20), ("3340", "older", 24),
)  # fmt: skip
LEVELS = ("younger", "middle", "older", "mixed")
FIRST_NAMES = (
    "Adela", "Bryn", "Corin", "Delphine", "Edda", "Fergus", "Greta", "Halden", "Isolde", "Jorun", "Kester", "Linnea",
    "Maren", "Niall", "Odette", "Perrin", "Quilla", "Runa", "Sorrel", "Tamsin", "Una", "Verity", "Wystan", "Yara",
)  # fmt: skip
LAST_NAMES = (
    "Aldertree", "Brackenfold", "Cobbleway", "Dovemarsh", "Elderwick", "Fenholt", "Gorsemoor", "Hazelbeck", "Ivyholme",
    "Juniperley", "Larkfield", "Mossbank", "Nettlecombe", "Osiergate", "Pearmain", "Quincehill", "Rushmere",
    "Sallowby", "Thornlea", "Umberdale", "Vetchley", "Willowgarth", "Yarrowden",
)  # fmt: skip
PLACES = (
    "Garden centre gate", "Farmers' market", "Hardware shop entrance", "Ferry landing", "Station forecourt",
    "Town hall arcade", "Mill Lane grocery", "School spring fair", "Bakery on the square", "Recycling centre",
    "Chapel hall coffee morning", "Riverside car park", "Allotment open day", "Sports hall foyer",
)  # fmt: skip
GOALS = (20, 25, 30, 40, 50, 60, 75, 100, 150)
GOAL_WEIGHTS = (8, 10, 18, 20, 18, 12, 7, 5, 2)


@dataclass(slots=True)
class Participant:
    """One participant by code; `appetite` is what the family takes in a whole season, about."""

    code: str
    registered_on: date
    left_on: date | None
    has_contact: bool
    is_active: bool
    goal: int
    goal_week: int
    appetite: float
    page_week: int
    own_picture: str
    told: int
    household: str = ""


@dataclass(slots=True)
class Troop:
    """One troop; `rate_extra` and `divisor` are what the organisation's list says, "" for nothing."""

    code: str
    level: str
    leader: str
    phone: str
    opened_on: date
    rate_extra: str
    divisor: str
    places: list[str]
    participants: list[Participant]

    @property
    def email(self) -> str:
        """An address at a domain that nobody can own."""
        return self.leader.lower().replace(" ", ".") + "@example.org"


@dataclass(frozen=True, slots=True)
class Setting:
    """What a season is made from: its calendar, who is there, what goes wrong, the seed, the last week reported."""

    season: Season
    area: list[Troop]
    plan: Plan
    seed: int
    until_week: int


FOUR_DIGITS = 9_000  # troops, up to which codes have four digits


def size_and_level(troops: int, seed: int) -> list[tuple[str, str, int]]:
    """Code, level and size of each troop: the demo's 34 and more beside them, or a small area drawn by the seed."""
    rng = dice(seed, "codes")
    if troops < len(TROOPS):
        codes = sorted(f"{number:04d}" for number in rng.sample(range(1, 10000), troops))
        return [(code, rng.choice(LEVELS), rng.choice((0, 1, 2, 3, 4, 6, 8, 11, 14))) for code in codes]
    taken = {code for code, _, _ in TROOPS}
    highest = 10_000 if troops <= FOUR_DIGITS else 100_000
    free = [number for number in range(1, highest) if f"{number:04d}" not in taken]
    more = sorted(f"{number:04d}" for number in rng.sample(free, troops - len(TROOPS)))
    return [*TROOPS, *((code, rng.choice(LEVELS), round(rng.triangular(4, 40, 10))) for code in more)]


def make_area(troops: int, season: Season, seed: int, plan: Plan) -> list[Troop]:
    """The troops in the order of their codes."""
    rows = sorted(size_and_level(troops, seed))
    area = [_troop(k, row, season, dice(seed, row[0]), plan) for k, row in enumerate(rows)]
    for troop in area:
        _households(troop, plan)
        _changes(troop, area, season, plan)
    return area


def _households(troop: Troop, plan: Plan) -> None:
    """The two children of one household have its code."""
    if trouble := plan.of("household", troop.code):
        for one in troop.participants:
            if one.code in (trouble.participant, sibling(trouble.participant)):
                one.household = f"H-{sibling(trouble.participant)}"


def _changes(troop: Troop, area: list[Troop], season: Season, plan: Plan) -> None:
    """Somebody leaves this troop and is in another from the same day on, under the same code."""
    trouble = plan.of("changed_troops", troop.code)
    gone = next((one for one in troop.participants if trouble and one.code == trouble.participant), None)
    if trouble and gone and gone.registered_on < (on := season.starts(trouble.week)) and gone.left_on is None:
        other = next(one for one in area if one.code == trouble.other)
        other.participants.append(replace(gone, registered_on=on))
        gone.left_on = on


def sibling(code: str) -> str:
    """The child before this one: of the demo's household it is the other."""
    troop, _, number = code.partition("-")
    return f"{troop}-{int(number) - 1:02d}"


def _troop(place: int, row: tuple[str, str, int], season: Season, rng: Random, plan: Plan) -> Troop:
    code, level, size = row
    leader = f"{FIRST_NAMES[place % len(FIRST_NAMES)]} {LAST_NAMES[place % len(LAST_NAMES)]}"
    opened_on = date(2026, 9, 7) + timedelta(days=rng.randint(0, 25))
    troop = Troop(code, level, leader, f"555-0{100 + place % 100}", opened_on, "", "", rng.sample(PLACES, 4), [])
    if level == "older" and rng.random() < 0.3:
        troop.rate_extra = rng.choice(("0.05", "0.10"))
    active = _who_takes_part(code, size, rng, plan)
    troop.participants = [_participant(f"{code}-{n:02d}", n in active, season, rng, plan) for n in range(1, size + 1)]
    if rng.random() < 0.06 and len(active) > 3:
        troop.divisor = str(len(active))
    return troop


def _who_takes_part(code: str, size: int, rng: Random, plan: Plan) -> set[int]:
    """The numbers of the participants whose families sell: most of them, as many as chance would have it."""
    wanted = round(size * rng.uniform(0.62, 0.86))
    for kind in ("few_taking_part", "tiny_troop"):
        if trouble := plan.of(kind, code):
            wanted = min(size, trouble.number)
    if plan.of("nobody_selling", code):
        return set()
    numbers = list(range(1, size + 1))
    rng.shuffle(numbers)
    for kind in ("leaver_with_debt", "family_overpaid", "household", "changed_troops"):  # who is named there sells
        trouble = plan.of(kind, code)
        if trouble and trouble.participant:
            named = {int(trouble.participant.split("-")[1])}
            if kind == "household":
                named.add(min(named) - 1)
            numbers = [*(n for n in numbers if n in named), *(n for n in numbers if n not in named)]
    return set(numbers[:wanted])


def _participant(code: str, is_active: bool, season: Season, rng: Random, plan: Plan) -> Participant:
    registered_on = date(2026, 9, 21) + timedelta(days=rng.randint(0, 110))
    if rng.random() < 0.04:  # some join while the sale is on
        registered_on = FIRST_DAY + timedelta(days=rng.randint(1, max(2, 4 * season.weeks)))
    left_on = None
    leaver = plan.of("leaver_with_debt", code.split("-", maxsplit=1)[0])
    if leaver and leaver.participant == code:
        registered_on, left_on = date(2026, 10, 5), season.ends(leaver.week) - timedelta(days=2)
    elif not is_active and rng.random() < 0.03:
        left_on = FIRST_DAY + timedelta(days=rng.randint(3, 7 * season.weeks))
        left_on = max(left_on, registered_on + timedelta(days=1))
    goal = rng.choices(GOALS, GOAL_WEIGHTS)[0]
    appetite = goal * rng.uniform(0.45, 1.15)
    if leaver and leaver.participant == code:
        goal, appetite = 75, 60.0
    if is_active and plan.of("tiny_troop", code.split("-", maxsplit=1)[0]):
        goal, appetite = 40, 40.0
    has_page = rng.random() < (0.7 if is_active else 0.25)
    return Participant(
        code=code,
        registered_on=registered_on,
        left_on=left_on,
        has_contact=is_active or rng.random() < 0.85,
        is_active=is_active,
        goal=goal,
        goal_week=rng.choice((1, 1, 1, 2, 3)) if is_active or rng.random() < 0.4 else 0,
        appetite=appetite,
        page_week=rng.choice((1, 1, 2, 2, 3, 4)) if has_page else 0,
        own_picture=rng.choice(("no", "no", "still", "still", "film")),
        told=rng.choice((0, 4, 8, 12, 20, 35)) if has_page else 0,
    )
