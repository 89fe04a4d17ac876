"""How awards are told from cells: steps done, progress, what was handed over, and what is to be bought.

Comes in: a TroopTrace, a day, a participant and an award (of what is to buy: an award). Goes out: Traced trees. How an
award stands is what the figures say, beside the cells that show it: a step counts wherever it was told, and the rows of
another troop are that troop's to see.
"""

from collections.abc import Callable
from datetime import date
from functools import partial

from pipelines.tracing.evidence import Row
from pipelines.tracing.participants import cells_of
from pipelines.tracing.terms import Cell, Traced, combined, not_below_0, of_cells, stated, total
from pipelines.tracing.troop import PARTED, TroopTrace

ELSEWHERE = "Steps count wherever they are told; rows of another troop are not shown here."


def _rows(troop: TroopTrace, day: date) -> list[Row]:
    return troop.evidence.figures.rows("awards", day, troop.evidence.troop)


def _row(troop: TroopTrace, day: date, part: str) -> Row:
    who, award = part.split(PARTED)
    return next(row for row in _rows(troop, day) if (row["participant"], row["award"]) == (who, award))


def _told(troop: TroopTrace, day: date, part: str, says: Callable[[Row], object]) -> list[Row]:
    """The rows of an award by a day that say something, oldest first."""
    who, award = part.split(PARTED)
    rows = [row for row in troop.evidence.rows("awards") if row["participant"] == who and row["award"] == award]
    return sorted((row for row in rows if row["week_ending"] <= day and says(row)), key=lambda row: row["week_ending"])


def _rule(troop: TroopTrace, award: str, key: str) -> Cell:
    found = next(row for row in troop.evidence.figures.season_awards() if row["code"] == award)
    return troop.evidence.rule(f"awards[{found['award_no']}].{key}", found[key])


def _steps(troop: TroopTrace, day: date, part: str) -> list[Cell]:
    """The newest cell that tells which steps are done."""
    return [
        troop.evidence.cell(row, "awards", "steps", " ".join(map(str, row["steps"])), note=str(row["week_ending"]))
        for row in _told(troop, day, part, lambda row: row["steps"])[-1:]
    ]


def steps_done(troop: TroopTrace, day: date, part: str) -> Traced:
    """How many steps are done."""
    done = _row(troop, day, part)["steps_done"]
    return stated("Steps done", "orders", done, _steps(troop, day, part), note=ELSEWHERE)


def steps(troop: TroopTrace, day: date, part: str) -> Traced:
    """How many steps the award has; none where it is earned by packages."""
    row = _row(troop, day, part)
    if row["steps"] is None:
        return stated("Steps", "orders", None, note="It is earned by packages.")
    return of_cells("Steps", "orders", [_rule(troop, row["award"], "steps")])


def progress(troop: TroopTrace, day: date, part: str) -> Traced:
    """The participant's."""
    return troop.of("families", "progress", day, part.partition(PARTED)[0])


def _standing(troop: TroopTrace, day: date, part: str, name: str) -> Traced:
    """What the figures say of an award, with the cells that show it: steps told, or packages, and the season's rule."""
    row = _row(troop, day, part)
    by_steps = row["packages"] is None
    rule = _rule(troop, row["award"], "steps" if by_steps else "packages")
    cells = [*_steps(troop, day, part), rule] if by_steps else [*cells_of(progress(troop, day, part)), rule]
    unit = "date" if name == "earned_on" else "text"
    return stated(name, unit, row[name], cells, note=ELSEWHERE if by_steps else "")  # type: ignore[arg-type]


earned_on, state = partial(_standing, name="earned_on"), partial(_standing, name="state")
missing = partial(_standing, name="missing")


def handed_on(troop: TroopTrace, day: date, part: str) -> Traced:
    """The first day that is told."""
    told = _told(troop, day, part, lambda row: row["handed_on"])
    cells = [troop.evidence.cell(row, "awards", "handed_on", row["handed_on"]) for row in told]
    return stated("Handed over on", "date", _row(troop, day, part)["handed_on"], cells)


# What is to be bought


def _earned(troop: TroopTrace, day: date, award: str, label: str, name: str) -> Traced:
    """Everyone who earned an award (and has it in hands), with the cells that show it."""
    each = []
    for row in _rows(troop, day):
        if row["award"] == award and row["state"] == "earned" and row[name] is not None:
            who = row["participant"]
            shown = troop.of("awards", name, day, f"{who}{PARTED}{award}")
            each.append(stated(who, "participants", 1, cells_of(shown)))
    return combined("people", label, "participants", *each)


earned, handed = partial(_earned, label="Earned", name="state"), partial(_earned, label="Handed over", name="handed_on")


def to_buy(troop: TroopTrace, day: date, award: str) -> Traced:
    """Earned, less handed over, not below 0."""
    net = total("Earned, less handed over", "packages", (1, earned(troop, day, award)), (-1, handed(troop, day, award)))
    return not_below_0("To buy", "packages", net)


def cost(troop: TroopTrace, day: date, award: str) -> Traced:
    """To buy, at the cost of a piece."""
    price = of_cells("Cost of a piece", "money", [_rule(troop, award, "cost")])
    return combined("product", "Cost", "money", to_buy(troop, day, award), price)
