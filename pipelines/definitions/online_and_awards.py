"""The season's rules of pages, posting, stalls and awards: [online], [[online.postage]], [stalls], [[awards]].

Comes in: those sections. Goes out: Online, Stalls, Award; `check_awards` looks at all awards together.
"""

from collections.abc import Sequence
from datetime import time
from decimal import Decimal
from itertools import pairwise
from typing import Literal, Self

from pydantic import Field, model_validator

from pipelines.definitions.season_values import Money, Part


class PostageTier(Part):
    """[[online.postage]]: what an order of up to so many packages costs to send."""

    up_to: int = Field(ge=1, le=10_000, title="Up to so many packages")
    price: Money = Field(title="Costs to send")


class Online(Part):
    """[online]: rules of the participants' personal pages, and what the organisation's postage is held against."""

    ship_minimum: int = Field(default=0, ge=0, le=1000, description="Least packages of a posted order; 0: none.")
    answer_within_days: int = Field(default=7, ge=0, le=60, description="Days a caregiver has to answer an order.")
    answer_until: time = Field(default=time(18), description="The hour of the last of these days, such as 18:00.")
    postage: tuple[PostageTier, ...] = Field(default=(), description="What a posted order costs to send.")
    far: Money = Field(default=Decimal(0), description="Postage added once to an order that goes far.")

    @model_validator(mode="after")
    def _ascending(self) -> Self:
        if any(later.up_to <= sooner.up_to for sooner, later in pairwise(self.postage)):
            raise ValueError("each tier of postage goes further than the one before")
        if self.answer_until.tzinfo:
            raise ValueError("answer_until is an hour of the area's own clock, such as 18:00:00")
        return self


class Stalls(Part):
    """[stalls]: how a stall's packages are shared among those who worked it."""

    credit: Literal["none", "equal", "minutes"] = Field(
        default="none", description="How a stall's packages are shared among those who worked it."
    )


class Award(Part):
    """[[awards]]: a badge by steps, or an award by packages."""

    code: str = Field(pattern=r"^[A-Za-z0-9]{1,12}$")
    title: str = Field(min_length=1, title="Name")
    steps: int | None = Field(
        default=None, ge=1, le=50, title="Steps it takes", description="Of a badge; or else packages."
    )
    packages: int | None = Field(
        default=None, ge=1, le=100_000, title="Packages it takes", description="Of an award by packages; or else steps."
    )
    levels: tuple[str, ...] = Field(
        default=(), title="For these levels", description="Troops' levels, a comma between two; empty: for all."
    )
    after: str = Field(default="", title="Only after", description="The code of the award that must be earned before.")
    near: int = Field(
        default=5,
        ge=0,
        le=100_000,
        title="Nearly there from",
        description="Packages left, at most, to be nearly there.",
    )
    cost: Money = Field(default=Decimal(0), title="Cost of a piece")
    in_stock: int = Field(default=0, ge=0, le=1_000_000, title="Pieces in stock")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.steps is None) == (self.packages is None):
            raise ValueError("an award is earned by steps or by packages: one of the two")
        return self


def check_awards(awards: Sequence[Award]) -> None:
    """Raises ValueError where a code stands twice, or an award comes after one that is not listed above it."""
    above: list[str] = []
    for award in awards:
        if award.code.casefold() in (code.casefold() for code in above):
            raise ValueError(f"awards: the code {award.code} stands twice")
        if award.after and award.after not in above:
            raise ValueError(f"awards: {award.code} comes after {award.after}, which is no award listed above it")
        above.append(award.code)


def awards_told(awards: Sequence[Award]) -> list[tuple[object, ...]]:
    """Each award as a row of season.awards; depth: how many come before it."""
    depth: dict[str, int] = {"": -1}
    rows: list[tuple[object, ...]] = []
    for number, one in enumerate(awards, 1):
        depth[one.code] = depth[one.after] + 1
        rows.append((number, one.code, one.title, one.steps, one.packages, list(one.levels), one.after or None,
                     depth[one.code], one.near, one.cost, one.in_stock))  # fmt: skip
    return rows
