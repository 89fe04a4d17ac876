"""What the modules of the demo hand one another. Money is whole cents, packages are whole numbers.

Comes in: nothing. Goes out: a troop's weekly report, and what the organisation's feeds are made of.
"""

from dataclasses import dataclass, field
from datetime import date

OWN_PAGE = "troop"  # the participant that stands for the troop's own page
OUTSIDE = "outside"  # the other troop of a move to or from another area


@dataclass(slots=True)
class Count:
    """A line of the Stock sheet; `on_hand` is None where nobody counted."""

    received: int = 0
    damaged: int = 0
    on_hand: int | None = 0


@dataclass(slots=True)
class FamilyRow:
    """A line of the Families sheet: packages taken (negative: brought back) and money handed in."""

    participant: str
    packages: dict[str, int]
    cash: int = 0
    card: int = 0
    note: str = ""


@dataclass(slots=True)
class Stall:
    """A public stall; `start` is "09:30", or "" where nobody wrote it down."""

    on: date
    start: str
    place: str
    packages: dict[str, int]
    cash: int
    card: int
    participants: tuple[str, ...]
    note: str = ""
    gift: int = 0
    guests: tuple[str, ...] = ()  # workers of other troops

    @property
    def team(self) -> tuple[str, ...]:
        """Everybody who worked there."""
        return (*self.participants, *self.guests)

    @property
    def until(self) -> str:
        """When it closed: after two hours, with a large team after three; "" where nobody wrote down the start."""
        if not self.start:
            return ""
        hours, minutes = self.start.split(":")
        return f"{int(hours) + (3 if len(self.participants) > 3 else 2):02d}:{minutes}"


@dataclass(slots=True)
class Deposit:
    """A row of the bank: cash paid in (kind empty), a fee, a cheque that came back, change taken out."""

    on: date
    amount: int
    slip: str
    note: str = ""
    kind: str = ""
    participant: str = ""


@dataclass(slots=True)
class Move:
    """Packages moved, as one of the two troops tells it; `direction` is "in" or "out"."""

    on: date
    item: str
    packages: int
    direction: str
    other: str


@dataclass(frozen=True, slots=True)
class AwardRow:
    """One participant and award: the steps done so far, and when it was handed over."""

    participant: str
    award: str
    steps: tuple[int, ...]
    handed_on: date | None


@dataclass(slots=True)
class Report:
    """What one troop says of one week: the sheets of its workbook."""

    troop: str
    week: int
    ends: date
    prepared_by: str
    prepared_on: date
    bank_balance: int | None = None
    balance_on: date | None = None
    note: str = ""
    stock: dict[str, Count] = field(default_factory=dict)
    families: list[FamilyRow] = field(default_factory=list)
    stalls: list[Stall] = field(default_factory=list)
    banked: list[Deposit] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    goals: dict[str, int] = field(default_factory=dict)
    elsewhere: dict[str, int] = field(default_factory=dict)
    promised: dict[str, dict[str, int]] = field(default_factory=dict)
    awards: list[AwardRow] = field(default_factory=list)

    def cash(self) -> int:
        """Cash and cheques of the week's families and stalls."""
        return sum(row.cash for row in self.families) + sum(stall.cash + stall.gift for stall in self.stalls)

    def card(self) -> int:
        """What reaches the bank by itself."""
        return sum(row.card for row in self.families) + sum(stall.card for stall in self.stalls)


@dataclass(slots=True)
class Supply:
    """A line of a supply document."""

    document: str
    troop: str
    item: str
    on: date
    packages: int
    kind: str


@dataclass(slots=True)
class Order:
    """An online order with its history, oldest state first; states may lie in the days ahead."""

    number: str
    troop: str
    participant: str
    placed_on: date
    mode: str
    packages: dict[str, int]
    shipping: int
    states: list[tuple[str, date]]
    is_far: bool = False
    otherwise: str = ""


@dataclass(slots=True)
class Remittance:
    """Money sent to the organisation, with its history: (state, day, reason)."""

    reference: str
    troop: str
    on: date
    amount: int
    states: list[tuple[str, date, str]]


@dataclass(slots=True)
class Collection:
    """What the organisation said it will take from the troop's bank on a day."""

    troop: str
    on: date
    amount: int
    announced_on: date
    arrears: str = ""


@dataclass(slots=True)
class BankLine:
    """A line of a troop's own bank."""

    troop: str
    line: str
    on: date
    amount: int
    kind: str
    text: str


@dataclass(slots=True)
class Adjustment:
    """A credit (positive) or a charge (negative) agreed outside the usual course."""

    reference: str
    troop: str
    participant: str
    on: date
    amount: int
    reason: str
    authorised_by: str


@dataclass(slots=True)
class Page:
    """The state of a participant's own page on a day."""

    troop: str
    participant: str
    on: date
    is_open: bool
    waits: bool
    own_picture: str
    delivers: bool
    people_told: int


@dataclass(slots=True)
class Balance:
    """What the organisation's own books say that a troop owes."""

    troop: str
    on: date
    owed: int


@dataclass(slots=True)
class Told:
    """All that came about in the season: the troops' reports and the rows behind the organisation's feeds."""

    reports: list[Report] = field(default_factory=list)
    supplies: list[Supply] = field(default_factory=list)
    orders: list[Order] = field(default_factory=list)
    remittances: list[Remittance] = field(default_factory=list)
    collections: list[Collection] = field(default_factory=list)
    bank_lines: list[BankLine] = field(default_factory=list)
    adjustments: list[Adjustment] = field(default_factory=list)
    pages: list[Page] = field(default_factory=list)
    awards_before: list[tuple[str, str, str]] = field(default_factory=list)
    balances: list[Balance] = field(default_factory=list)
