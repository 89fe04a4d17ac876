"""The season's rules: season.toml → one checked Season; every fault is named by its key.

Comes in: the text of a season.toml. Goes out: a Season (dates, items, prices, tiers, dues, thresholds).
"""

import re
import tomllib
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, field_validator, model_validator

from pipelines.definitions.errors import BrokenSeason
from pipelines.definitions.online_and_awards import Award, Online, Stalls, check_awards
from pipelines.definitions.season_values import Money, Part, Ratio, Share

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
GRACE = timedelta(days=60)  # how far outside the season a date may lie
SIGNS = {"USD": "$", "CAD": "$", "AUD": "$", "NZD": "$", "EUR": "€", "GBP": "£", "JPY": "¥", "INR": "₹"}
RESERVED = {
    "participant",
    "troop",
    "date",
    "start",
    "place",
    "participants",
    "cash",
    "card",
    "gift",
    "end",
    "note",
    "outside",
}


class Frame(Part):
    """[season]: its title, its days, its currency."""

    title: str = Field(min_length=1, description="What the sale is called on every screen and paper.")
    area: str = Field(min_length=1, description="What the area is called.")
    first_day: date = Field(description="First day of the season.")
    last_day: date = Field(description="Last day of the season.")
    week_ends_on: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"] = Field(
        default="sunday", description="Day on which weeks end."
    )
    currency: str = Field(default="USD", pattern=r"^[A-Z]{3}$", description="Currency, such as USD.")  # ISO 4217
    settle_days: int = Field(default=5, ge=0, le=60, description="Days that a collection needs to clear.")
    participant_pattern: str = Field(
        default="", max_length=200, description="Pattern of participants' codes; empty: as those of the roster."
    )
    coordinator: str = Field(default="", max_length=100, description="Who signs the letters to leaders.")
    phone: str = Field(default="", max_length=50, description="The number that leaders call.")

    @property
    def sign(self) -> str:
        """The currency's sign, or its code and a space where it has none of its own."""
        return SIGNS.get(self.currency, f"{self.currency} ")

    @field_validator("participant_pattern")
    @classmethod
    def _compiles(cls, pattern: str) -> str:
        try:
            re.compile(pattern)
        except re.error:
            raise ValueError("not a regular expression") from None
        return pattern

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.last_day < self.first_day:
            raise ValueError("last_day lies before first_day")
        return self


class Item(Part):
    """[[items]]: what is sold; a new price is a new code."""

    code: str = Field(pattern=r"^[A-Za-z0-9]{1,12}$")
    title: str = Field(min_length=1, title="Name")
    price: Annotated[Money, Field(le=10_000, title="Price of a package")]
    packages_per_case: int = Field(default=12, ge=1, le=10_000, title="Packages in a case")
    stocked: bool = Field(
        default=True, title="Troops hold it", description="Not so of what is given on a buyer's behalf."
    )
    box_of: int = Field(
        default=1, ge=1, le=10_000, title="Counts in the post as",
        description="Packages that a gift box counts as in the post; 1 for all that is no gift box.",
    )  # fmt: skip


class Tier(Part):
    """[[proceeds.tiers]]: from this average of packages on, the troop keeps this much of each package charged."""

    from_average: Decimal = Field(
        ge=0, max_digits=12, decimal_places=4, title="From this average on",
        description="Average of packages, for each participant.",
    )  # fmt: skip
    rate: Decimal = Field(
        ge=0, le=1000, max_digits=9, decimal_places=4, title="Kept of each package",
        description="What the troop keeps of each package charged.",
    )  # fmt: skip


class Proceeds(Part):
    """[proceeds]: what the average divides by, and the tiers."""

    per: Literal["taking_part", "registered"] = Field(
        default="taking_part", description="The participants that a troop's average divides by."
    )
    tiers: tuple[Tier, ...] = Field(min_length=1, description="What a troop keeps, by its average.")

    @model_validator(mode="after")
    def _ascending(self) -> Self:
        starts = [tier.from_average for tier in self.tiers]
        if starts[0] != 0:
            raise ValueError("the first tier starts at from_average = 0")
        if any(later <= sooner for sooner, later in pairwise(starts)):
            raise ValueError("each tier starts above the one before")
        return self


class Due(Part):
    """[[dues]]: on this day this share of charged less proceeds, as of the cutoff, is due in all."""

    on: date = Field(title="Due on")
    share: Share = Field(title="Due by then in all", description="As a part of the whole, such as 0.40 or 40 %.")
    cutoff: date | None = Field(
        default=None, title="By the figures of", description="An earlier day; empty: of the day itself."
    )

    @property
    def cutoff_on(self) -> date:
        return self.cutoff or self.on

    @model_validator(mode="after")
    def _cutoff_first(self) -> Self:
        if self.cutoff and self.cutoff > self.on:
            raise ValueError("the cutoff lies after the due date")
        return self


Days = Annotated[int, Field(ge=0, le=366)]
Count = Annotated[int, Field(ge=0, le=100_000)]


def _from(default: str, about: str) -> Any:
    return Field(default=Decimal(default), description=about)


def _at(default: int, about: str) -> Any:
    return Field(default=default, description=about)


class FollowUp(Part):
    """[follow_up]: from where on something is an exception; each default is what a coordinator would choose."""

    late_after_days: Days = _at(3, "Days after a week's end from which a submission is late.")
    lower_from: Money = _from("5.00", "Money that a newer submission must state less than the one before.")
    lower_from_packages: Count = _at(2, "Packages that a newer submission must state less than the one before.")
    missing_from_packages: Count = _at(2, "Packages of an item not accounted for, or too many, from which it is asked.")
    missing_act_from: Money = _from("50.00", "Value of packages not accounted for from which it is to act now.")
    stall_from: Money = _from("10.00", "Money by which a stall's takings must differ from its packages' value.")
    bank_within_days: Days = _at(7, "Days after a week's end within which its cash should be banked.")
    unbanked_from: Money = _from("25.00", "Cash still not banked by then from which it is asked.")
    deposit_over_from: Money = _from("5.00", "Money by which deposits must exceed the cash taken.")
    past_due_from: Money = _from("1.00", "Past due money from which it is asked.")
    past_due_act_days: Days = _at(8, "Age in days of the oldest past due part from which it is to act now.")
    cover_within_days: Days = _at(14, "Days ahead within which the next due date is held against the bank.")
    cover_from: Money = _from("5.00", "Money that must be lacking for the next due date.")
    books_from: Money = _from("1.00", "Money by which the organisation's figure must differ from ours.")
    bank_from: Money = _from("25.00", "Money by which the bank's balance must lie below what should be there.")
    bank_over_from: Money = _from(
        "500.00", "Money by which it must lie above what should be there: an account may hold other money."
    )
    family_days: Days = _at(15, "Age in days from which packages that a family has not paid for count as old.")
    family_from: Money = _from("50.00", "Old money owed by a family from which it is asked.")
    family_act_from: Money = _from("200.00", "Old money owed by a family from which it is to act now.")
    overpaid_from: Money = _from("5.00", "Money that a family handed in beyond its charge.")
    leaver_from: Money = _from("1.00", "Money owed by a family whose participant left.")
    slow_weeks: Count = _at(3, "Weeks submitted before slow stock is judged.")
    slow_from_cases: Count = _at(2, "Cases of an item beyond what will sell by the season's end.")
    running_out_from_packages: Count = _at(4, "Packages of an item that the coming week will probably lack.")
    ordered_above: Ratio = _from("1.50", "Times what last season explains from which an order lies far above it.")
    ordered_from_packages: Count = _at(60, "Packages above what last season explains from which it is asked.")
    nobody_weeks: Count = _at(2, "Weeks with packages and without a seller before it is asked.")
    contact_share: Share = _from(
        "0.10", "Part of a troop's participants without a contact known from which it is told."
    )
    page_share: Share = _from("0.50", "Part of a troop's participants without an open page from which it is told.")
    page_weeks: Count = _at(2, "Weeks of the season before closed pages are told.")
    page_waits_days: Days = _at(12, "Days for which a page waits for a caregiver before it is told.")
    told_days: Days = _at(12, "Days for which a page is open, and nobody told of it, before it is told.")
    sent_days: Days = _at(9, "Days after which a posted order that is not sent is told.")
    waiting_from_day: Days = _at(2, "Day from which an online order that waits for an answer is told.")
    lapsed_days: Days = _at(14, "Days for which an online order that lapsed is told.")
    cases_from_packages: Count = _at(12, "Packages that cases typed as packages must make a difference of.")
    cumulative_from_lines: Count = _at(8, "Lines of earlier weeks from which a week may tell the season so far.")
    cumulative_share: Share = _from("0.95", "Part of the lines of earlier weeks that must stand in the week again.")
    again_from_lines: Count = _at(3, "Filled lines from which a week may be an earlier one sent again.")
    swapped_from_packages: Count = _at(6, "Packages from which two columns may have been swapped.")
    swapped_from: Money = _from("25.00", "Money from which cash and card may have been swapped.")
    slip_from: Money = _from("50.00", "Money that a slip of the decimal point must make a difference of.")
    another_from_participants: Count = _at(3, "Participants of another troop from which a workbook may be its own.")
    another_from_items: Count = _at(3, "Counts that are off from which a workbook may be another troop's.")
    another_by_chance: Share = _from("0.05", "Troops that chance alone may give the same counts, at most.")
    posted_days: Days = _at(14, "Days for which a posted order under the minimum is told.")
    give_back_days: Days = _at(3, "Days before its day from which a slot that is given back is late.")
    without_amount: Money = _from("50.00", "What an exception without an amount counts as when exceptions are ranked.")
    average_from_participants: Count = _at(5, "Participants taking part from which a troop's average is compared.")


class Care(Part):
    """[care]: until when all is settled, and how long participants' rows and the files that came in are kept."""

    keep_days: int = Field(
        default=180, ge=0, le=3660, description="Days after the season for which participants' rows are kept."
    )
    close_days: int = Field(default=14, ge=0, le=366, description="Days after the last week until all is settled.")


class Delivery(Part):
    """[plan.delivery]: the day on which the opening orders are handed out."""

    on: date | None = Field(default=None, description="The day of delivery.")
    doors: int = Field(default=1, ge=1, le=100, description="Doors at which vehicles are loaded at the same time.")
    minutes_a_vehicle: Decimal = Field(default=Decimal(10), ge=0, le=1000, description="Minutes for each vehicle.")
    minutes_a_case: Decimal = Field(default=Decimal("0.5"), ge=0, le=1000, description="Minutes for each case.")


class Plan(Part):
    """[plan]: ordering from the depot, and what a package that stays unsold costs a troop."""

    order_until: date | None = Field(default=None, description="Last day to order from the depot; empty: none.")
    hand_back_until: date | None = Field(
        default=None, description="Last day on which the depot takes whole cases back; empty: never."
    )
    lead_weeks: int = Field(default=1, ge=0, le=52, description="Weeks from an order to the goods.")
    least_ratio: Decimal = Field(
        default=Decimal("0.20"),
        gt=0,
        le=1,
        description="However little a package earns, enough is ordered in this part of all cases.",
    )
    unsold_costs: Money | None = Field(
        default=None, description="What a package left over costs a troop; empty: its price less the proceeds."
    )
    delivery: Delivery = Delivery()


class Season(Part):
    """All the rules of one season, frozen; `text` is the season.toml it was read from."""

    season: Frame = Field(title="The sale")
    items: tuple[Item, ...] = Field(min_length=1)
    proceeds: Proceeds
    dues: tuple[Due, ...] = Field(default=(), title="Due dates", description="What is due by when, in all.")
    online: Online = Field(default=Online(), title="Online orders")
    stalls: Stalls = Stalls()
    awards: tuple[Award, ...] = ()
    follow_up: FollowUp = FollowUp()
    care: Care = Field(default=Care(), title="What is kept")
    plan: Plan = Field(default=Plan(), title="Ordering")
    text: str = Field(default="", repr=False)

    @model_validator(mode="after")
    def _whole(self) -> Self:
        codes = [item.code.casefold() for item in self.items]
        for code in codes:
            if codes.count(code) > 1:
                raise ValueError(f"items: the code {code.upper()} stands twice")
            if code in RESERVED:
                raise ValueError(f"items: the code {code.upper()} is the name of a column")
        days = [due.on for due in self.dues]
        if days != sorted(set(days)):
            raise ValueError("dues: each due date comes after the one before")
        if any(not self.first_dated <= day <= self.last_dated for day in days):
            raise ValueError("dues: a due date lies over 60 days outside the season")
        check_awards(self.awards)
        return self

    @property
    def first_dated(self) -> date:
        return self.season.first_day - GRACE

    @property
    def last_dated(self) -> date:
        return self.season.last_day + GRACE

    @property
    def codes(self) -> dict[str, Item]:
        """Items by code, as season.toml spells it."""
        return {item.code: item for item in self.items}

    @property
    def first_week_ending(self) -> date:
        """The first day a week ends on, on or after the first day."""
        ahead = (DAYS.index(self.season.week_ends_on) - self.season.first_day.weekday()) % 7
        return self.season.first_day + timedelta(days=ahead)

    def week_ending(self, number: int) -> date:
        """The day the season's week `number` (1, 2, ...) ends on."""
        return self.first_week_ending + timedelta(weeks=number - 1)

    def week_number(self, day: date) -> int:
        """The season's week that `day` lies in: 1, 2, ...; 0 and less before the first."""
        return (day - self.first_week_ending + timedelta(days=6)).days // 7 + 1

    def is_week_ending(self, day: date) -> bool:
        """Whether a week of the season ends on `day`."""
        return day.weekday() == DAYS.index(self.season.week_ends_on)

    @property
    def week_endings(self) -> list[date]:
        """The ends of the season's own weeks, the last one the first on or after the last day."""
        last = self.week_number(self.season.last_day)
        return [self.week_ending(number) for number in range(1, last + 1)]

    @property
    def close_by(self) -> date:
        """Until when every troop is to be closed and settled."""
        return self.week_endings[-1] + timedelta(days=self.care.close_days)


def thresholds() -> dict[str, tuple[str, str]]:
    """Each threshold of [follow_up]: its default as text, and what it is for."""
    return {name: (str(field.default), field.description or "") for name, field in FollowUp.model_fields.items()}


def read_season(text: str) -> Season:
    """The season that a season.toml's text states; raises BrokenSeason naming every fault by its key."""
    try:
        stated = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as fault:
        raise BrokenSeason(f"season.toml is not valid TOML: {fault}.") from fault
    if "text" in stated:
        raise BrokenSeason("season.toml: text: this key is not known.")
    try:
        return Season.model_validate({**stated, "text": text})
    except ValidationError as faults:
        raise BrokenSeason("season.toml needs mending:\n" + "\n".join(keyed(faults, "season.toml"))) from faults


def keyed(faults: ValidationError, whole: str) -> list[str]:
    """Each fault in a line, named by its key; `whole` is said where no key is meant ("": the fault names its own)."""
    lines = []
    for fault in faults.errors(include_url=False):
        place = _key(fault["loc"]) or whole
        lines += [f"  {place}{': ' if place else ''}{said}" for said in _said(fault).splitlines()]
    return lines


def _key(places: tuple[int | str, ...]) -> str:
    key = ""
    for place in places:
        key += f"[{place + 1}]" if isinstance(place, int) else f".{place}" if key else place
    return key


def _said(fault: "object") -> str:
    kind, message, given = fault["type"], fault["msg"], fault["input"]  # type: ignore[index]
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return "this key is not known"
    text = message.removeprefix("Value error, ")
    return text if isinstance(given, dict) else f"{text} (found {given!s})"
