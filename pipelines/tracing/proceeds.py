"""How what a troop keeps is worked out from cells.

Comes in: a TroopTrace, a day. Goes out: Traced trees of the rate and the proceeds.
"""

from datetime import date

from pipelines.tracing.terms import Traced, combined, of_cells, picked, total
from pipelines.tracing.troop import TroopTrace


def _divisor(troop: TroopTrace, day: date) -> Traced:
    row = next(iter(troop.evidence.rows("troops")), None)
    if row and row["divisor"] is not None:
        cell = troop.evidence.cell(row, "troops", "divisor", row["divisor"])
        return picked("The organisation's count", "participants", cell)
    return troop.of("standing", troop.evidence.rules["proceeds_per"], day)


def proceeds_rate(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The rate of the last tier that is reached, and the troop's own extra."""
    sold, divisor = troop.of("standing", "packages_sold", day), _divisor(troop, day)
    reached = [
        tier
        for tier in troop.evidence.tiers
        if tier["tier_no"] == 1 or (divisor.value > 0 and tier["from_average"] * divisor.value <= sold.value)
    ][-1]
    rule = troop.evidence.rule(f"proceeds.tiers[{reached['tier_no']}].rate", reached["rate"])
    label = f"Tier from {reached['from_average'].normalize():f} packages on average"
    row = next(iter(troop.evidence.rows("troops")), None)
    extra = [troop.evidence.cell(row, "troops", "extra_rate", row["extra_rate"])] if row and row["extra_rate"] else []
    return total(
        "Proceeds a package", "rate",
        (1, picked(label, "rate", rule, sold, divisor)), (1, of_cells("The troop's extra rate", "rate", extra)),
    )  # fmt: skip


def proceeds(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The rate times the packages charged."""
    terms = (troop.of("standing", name, day) for name in ("proceeds_rate", "packages_charged"))
    return combined("product", "Proceeds", "money", *terms)
