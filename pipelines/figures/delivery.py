"""The day of delivery: which troop's cases go on which vehicle, and when each vehicle is loaded at which door.

Comes in: cases by troop, cases that each vehicle carries, doors and minutes. Goes out: loads, with how many vehicles
are needed at the least, and slots. The same rows give the same loads.

Whole troops' orders are packed by best fit from the largest down; where that fails, by a search of so many steps. Slots
go longest first to the door that is free first: that ends at most 4/3 - 1/(3 doors) of the best (Graham 1969, from
memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

STEPS = 20_000
MOST_SEARCHED = 60  # orders; of more only the best fit is tried


@dataclass(frozen=True, slots=True)
class Load:
    """A troop's cases on a vehicle."""

    vehicle: str
    troop: str
    cases: int


@dataclass(frozen=True, slots=True)
class Loads:
    """All loads, vehicle by vehicle; `least`: fewer vehicles are impossible. None of them where it does not fit."""

    loads: tuple[Load, ...]
    least: int
    fits: bool = True

    @property
    def vehicles(self) -> dict[str, int]:
        """The cases on each vehicle that is used."""
        found: dict[str, int] = {}
        for one in self.loads:
            found[one.vehicle] = found.get(one.vehicle, 0) + one.cases
        return found


@dataclass(frozen=True, slots=True)
class Slot:
    """When a vehicle is loaded at which door, in minutes from the start."""

    vehicle: str
    door: int
    begins: Decimal
    ends: Decimal


def loads(orders: Mapping[str, int], vehicles: Mapping[str, int]) -> Loads:
    """Whole troops' orders on vehicles, one trip each, on as few as can be found."""
    room = sorted(((cases, name) for name, cases in vehicles.items() if cases > 0), key=lambda one: (-one[0], one[1]))
    left = {troop: cases for troop, cases in orders.items() if cases > 0}
    full: list[Load] = []
    for troop in sorted(left, key=lambda troop: (-left[troop], troop)):
        while room and left[troop] > room[0][0]:  # full loads of the largest left
            most, name = room.pop(0)
            full.append(Load(name, troop, most))
            left[troop] -= most
    sizes = sorted(((cases, troop) for troop, cases in left.items()), key=lambda one: (-one[0], one[1]))
    total, least = sum(cases for cases, _troop in sizes), None
    for count in range(len(room) + 1):
        if sum(cases for cases, _name in room[:count]) < total:
            continue
        found, is_settled = _packed(sizes, room[:count])
        if least is None and (found is not None or not is_settled):
            least = count
        if found is not None:
            order = {name: place for place, (_cases, name) in enumerate(room)}
            made = sorted(found, key=lambda one: (order[one.vehicle], one.troop))
            return Loads((*full, *made), len(full) + (least or 0))
    return Loads((), 0, fits=not left)


def _packed(sizes: Sequence[tuple[int, str]], room: Sequence[tuple[int, str]]) -> tuple[list[Load] | None, bool]:
    """Loads of some vehicles, or None; and whether it is settled that there are none."""
    best = _best_fit(sizes, room)
    if best is not None or len(sizes) > MOST_SEARCHED:
        return best, best is not None
    return _searched(sizes, room)


def _best_fit(sizes: Sequence[tuple[int, str]], room: Sequence[tuple[int, str]]) -> list[Load] | None:
    left = {name: cases for cases, name in room}
    made = []
    for cases, troop in sizes:
        fitting = [name for name in left if left[name] >= cases]
        if not fitting:
            return None
        name = min(fitting, key=lambda name: (left[name], name))
        left[name] -= cases
        made.append(Load(name, troop, cases))
    return made


def _searched(sizes: Sequence[tuple[int, str]], room: Sequence[tuple[int, str]]) -> tuple[list[Load] | None, bool]:
    """Every way in turn, the largest order first, vehicles with the same room left once; up to STEPS."""
    left = [cases for cases, _name in room]
    placed: list[int] = []
    steps = 0

    def place(number: int) -> bool:
        nonlocal steps
        if number == len(sizes):
            return True
        tried = set()
        for vehicle, space in enumerate(left):
            if space < sizes[number][0] or space in tried:
                continue
            steps += 1
            if steps > STEPS:
                return False
            tried.add(space)
            left[vehicle] -= sizes[number][0]
            placed.append(vehicle)
            if place(number + 1):
                return True
            placed.pop()
            left[vehicle] += sizes[number][0]
        return False

    if place(0):
        return [Load(room[v][1], troop, cases) for (cases, troop), v in zip(sizes, placed, strict=True)], True
    return None, steps <= STEPS


def slots(vehicles: Mapping[str, int], doors: int, a_vehicle: Decimal, a_case: Decimal) -> list[Slot]:
    """When each vehicle is loaded, by the cases on it: the largest first to the door that is free first."""
    free = [Decimal(0)] * doors
    made = []
    for name, cases in sorted(vehicles.items(), key=lambda one: (-one[1], one[0])):
        door = min(range(doors), key=lambda door: (free[door], door))
        ends = free[door] + a_vehicle + a_case * cases
        made.append(Slot(name, door + 1, free[door], ends))
        free[door] = ends
    return made


@dataclass(frozen=True, slots=True)
class Pick:
    """What a troop is given of an item: whole cases, packages in all, and of them those that fill no case."""

    troop: str
    item: str
    cases: int
    packages: int
    loose: int


@dataclass(frozen=True, slots=True)
class DeliveryDay:
    """The day: what each troop is given, on which vehicle, when and at which door."""

    picks: tuple[Pick, ...]
    loads: Loads
    slots: tuple[Slot, ...]

    @property
    def loose(self) -> list[Pick]:
        """Orders that are no whole cases; they are told, not rounded."""
        return [one for one in self.picks if one.loose]

    @property
    def cases(self) -> dict[str, int]:
        """Whole cases by item."""
        found: dict[str, int] = {}
        for one in self.picks:
            found[one.item] = found.get(one.item, 0) + one.cases
        return found


def delivery_day(
    terms: Sequence[Mapping[str, Any]], vehicles: Mapping[str, int], doors: int, a_vehicle: Decimal, a_case: Decimal
) -> DeliveryDay:
    """The day of delivery of opening orders, rows of measures.opening_terms; without vehicles no loads."""
    picks = []
    for row in terms:
        if row["ordered"]:
            cases, loose = divmod(row["ordered"], row["packages_per_case"])
            picks.append(Pick(row["troop"], row["item"], cases, row["ordered"], loose))
    orders: dict[str, int] = {}
    for one in picks:
        orders[one.troop] = orders.get(one.troop, 0) + one.cases
    found = loads(orders, vehicles) if vehicles else Loads((), 0)
    return DeliveryDay(tuple(picks), found, tuple(slots(found.vehicles, doors, a_vehicle, a_case)))


def clock(minutes: Decimal) -> str:
    """Minutes from the start as `1:05`."""
    whole = int(minutes)
    return f"{whole // 60}:{whole % 60:02d}"
