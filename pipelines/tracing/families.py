"""How what families paid and owe, by its age, is worked out from cells.

Comes in: a TroopTrace, a day, a participant. Goes out: Traced trees.
"""

from datetime import date
from functools import partial

from pipelines.tracing.terms import AGES, Age, Traced, combined, not_below_0, total
from pipelines.tracing.troop import TroopTrace

TAKEN = {"hand_out": 1, "bring_back": 1, "donation_out": 1, "donation_back": 1}


def paid_of_charge(troop: TroopTrace, day: date, _part: str) -> Traced:
    """What each family paid, at most its charge and at least 0."""
    each = []
    for who in troop.evidence.families(day):
        paid, charged = troop.of("families", "paid", day, who), troop.of("families", "charged", day, who)
        each.append((1, not_below_0(who, "money", combined("least", who, "money", paid, charged))))
    return total("Families paid", "money", *each)


def _weeks(troop: TroopTrace, day: date, who: str) -> list[tuple[date, Traced]]:
    """What a family was charged in each week, less what it brought back, oldest first."""
    entries = troop.evidence.entries
    weeks = {row["on_day"] for row in entries if row["participant"] == who and row["kind"] in TAKEN}
    return [
        (week, troop.entries(f"Week to {week}", "money", TAKEN, day, lambda row, week=week: (  # type: ignore[misc]
            row["participant"] == who and row["on_day"] == week)))
        for week in sorted(week for week in weeks if week <= day)
    ]  # fmt: skip


def _owes(troop: TroopTrace, day: date, who: str, age: Age) -> Traced:
    weeks = _weeks(troop, day, who)
    back = total("Brought back", "money", *((-1, charged) for _week, charged in weeks if charged.value < 0))
    in_all = total("Paid and brought back", "money", (1, troop.of("families", "paid", day, who)), (1, back))
    taken_off = not_below_0("Paid and brought back, not below 0", "money", in_all)
    so_far: list[tuple[int, Traced]] = []
    terms = []
    for week, charged in weeks:
        if charged.value <= 0:
            continue
        so_far.append((1, charged))
        left = total("Not paid yet", "money", *so_far, (-1, taken_off))
        unpaid = combined("least", f"Unpaid of {week}", "money", charged, not_below_0("Left", "money", left))
        if AGES[age][0] <= (day - week).days <= AGES[age][1]:
            terms.append((1, unpaid))
    if age == "0_7" and in_all.value < 0:
        refunded = total("Refunded", "money", (-1, in_all))
        terms.append((1, not_below_0("Refunded beyond what was paid", "money", refunded)))
    return total("Owes", "money", *terms)


owes_0_7, owes_8_14 = partial(_owes, age="0_7"), partial(_owes, age="8_14")
owes_15_30, owes_over_30 = partial(_owes, age="15_30"), partial(_owes, age="over_30")


def overpaid(troop: TroopTrace, day: date, who: str) -> Traced:
    """What was paid beyond the charge, but for online orders."""
    paid = [(1, troop.of("families", name, day, who)) for name in ("paid_cash", "paid_card", "settled")]
    charged = troop.of("families", "charged", day, who)
    return not_below_0("Overpaid", "money", total("Beyond the charge", "money", *paid, (-1, charged)))


def paid_ahead(troop: TroopTrace, day: date, who: str) -> Traced:
    """What was paid beyond the charge through online orders."""
    owes, over = (troop.of("families", name, day, who) for name in ("owes", "overpaid"))
    ahead = not_below_0("Paid ahead in all", "money", total("", "money", (-1, owes)))
    return not_below_0("Paid ahead", "money", total("Of it not overpaid", "money", (1, ahead), (-1, over)))
