"""What the parts of a season's rules are made of: a frozen part, money, shares.

Comes in: values as season.toml states them. Goes out: the same, checked; a fault is a ValueError in plain words.
"""

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field


def _two_decimals(value: Decimal) -> Decimal:
    if value != round(value, 2):
        raise ValueError("at most two decimals")
    return value


Money = Annotated[Decimal, Field(ge=0, le=10_000_000), AfterValidator(_two_decimals)]
Share = Annotated[Decimal, Field(ge=0, le=1, max_digits=12, decimal_places=8)]
Ratio = Annotated[Decimal, Field(ge=1, le=100, max_digits=6, decimal_places=2)]


class Part(BaseModel):
    """A section of season.toml: every key is known, and nothing changes once it is read."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)
