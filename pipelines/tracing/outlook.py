"""How a troop's outlook comes about: its level from the cells of the weeks it sent, the season's shape, the range.

Comes in: a TroopTrace, a day, an item ("" for all). Goes out: Traced trees. What comes from other troops (the area's
growth, last season's shape, the spreads) stands in them as a number with its words.
"""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from pipelines.figures.outlook import AREAS_WEEKS, FADING, quantile
from pipelines.tracing.evidence import Row
from pipelines.tracing.terms import Traced, combined, of_cells, stated, total
from pipelines.tracing.troop import TroopTrace

OUT_OF_STOCK = ("hand_out", "bring_back", "stall_sale")
NOT_KNOWN = "Nothing can be said yet: no week was sent, and nothing is known of a season before."


def _row(troop: TroopTrace, day: date, item: str) -> Row | None:
    rows = troop.evidence.figures.rows("outlook", day, troop.evidence.troop)
    return next((row for row in rows if row["troop"] and (row["item"] or "") == item), None)


def _unknown(label: str) -> Traced:
    return stated(label, "average", None, note=NOT_KNOWN)


def level(troop: TroopTrace, day: date, item: str) -> Traced:
    """What was seen and what the area says of a troop of its size, by the part of the season that both stand for."""
    row = _row(troop, day, "")
    if row is None:
        return _unknown("Level of a whole season")
    if item:
        return stated("Level of a whole season", "average", None, note="The level is that of all items together.")
    credit = AREAS_WEEKS / row["weeks"]
    note = "Its participants, times last season's packages a participant: half its own, half the area's."
    size = stated("Packages that a troop of its size sells in a season", "average", row["size"], note=note)
    word = combined(
        "product", "The area's word, which counts like two average weeks", "average",
        stated("Part of a season that two weeks are", "number", credit),
        stated("How the area sells beside troops of that size", "number", row["growth"]), size,
    )  # fmt: skip
    above = total("Sold so far, newer weeks counting more, and the area's word", "average",
                  (1, _seen(troop, row)), (1, word))  # fmt: skip
    parts = total("The parts of a season that these are", "number", (1, _part(troop, row)),
                  (1, stated("Part of a season that two weeks are", "number", credit)))  # fmt: skip
    by = combined("quotient", "One by the other", "average", above, parts)
    return combined("greatest", "Level of a whole season", "average", by, stated("0", "average", 0.0))


def _weeks(troop: TroopTrace, row: Row) -> list[tuple[int, date, Decimal]]:
    """Each week sent up to the day: its number, its end, how much it counts."""
    sent = {one["week_ending"] for one in troop.evidence.rows("submitted")}
    first = troop.evidence.rules["first_week_ending"]
    fading = FADING[row["has_last"]]
    weeks = [(number, first + timedelta(weeks=number - 1)) for number in range(1, row["week"] + 1)]
    return [(no, end, Decimal(repr(fading ** (row["week"] - no)))) for no, end in weeks if end in sent]


def _seen(troop: TroopTrace, row: Row) -> Traced:
    stocked = {code for code, item in troop.evidence.items.items() if item["is_stocked"]}
    terms = []
    for number, end, counts in _weeks(troop, row):
        cells = [
            troop.counted(entry, 1, "packages") for entry in troop.evidence.entries
            if entry["on_day"] == end and entry["kind"] in OUT_OF_STOCK and entry["item"] in stocked
        ]  # fmt: skip
        packages = of_cells(f"Out of stock in week {number}", "packages", cells)
        terms.append(combined("product", f"Week {number}", "average", stated("Counts", "number", counts), packages))
    wanted = stated("What more would have gone where an item had run out", "average", row["wanted"])
    some = [(1, wanted)] if row["wanted"] else []
    return total("Out of stock so far, newer weeks counting more", "average", *((1, term) for term in terms), *some)


def _part(troop: TroopTrace, row: Row) -> Traced:
    terms = []
    for number, _end, counts in _weeks(troop, row):
        part = stated(f"Part of the season's packages that goes in week {number}", "number", row["shape"][number - 1])
        terms.append(combined("product", f"Week {number}", "number", stated("Counts", "number", counts), part))
    note = "last season's weeks, all troops together" if row["has_last"] else "all weeks alike: no last season is known"
    label = f"The weeks sent, as parts of a season ({note})"
    return total(label, "number", *((1, term) for term in terms)) if terms else stated(label, "number", 0.0)


def mean(troop: TroopTrace, day: date, item: str) -> Traced:
    """The level, times the part of the season that is left; of an item its part of that."""
    row = _row(troop, day, item)
    whole = _row(troop, day, "")
    if row is None or whole is None:
        return _unknown("Will probably still go out")
    left = total(
        "Part of the season's packages that goes in the weeks left", "number",
        *((1, stated(f"Week {place}", "number", part)) for place, part in enumerate(whole["shape"], 1)
          if place > whole["week"]),
    ) if whole["week"] < whole["weeks"] else stated("Part of the season that is left", "number", 0.0)  # fmt: skip
    terms = [level(troop, day, ""), left]
    if item:
        note = "What it sold of the item so far, leaning towards the area's mix as if that were 100 packages more."
        terms.append(stated("The item's part of the troop's packages", "number", row["share"], note=note))
    return combined("product", "Will probably still go out", "average", *terms)


def _range(troop: TroopTrace, day: date, item: str, label: str, chance: float) -> Traced:
    """The end of the range: the spread it rests on, each part in words."""
    whole = _row(troop, day, "")
    around = mean(troop, day, item)
    row = _row(troop, day, item)
    if whole is None or row is None or row["low"] is None:
        return stated(label, "packages", None, note=NOT_KNOWN if whole is None else "Before the season: troops only.")
    takings, own, area = (whole[name] for name in ("at_a_time", "own_spread", "area_spread"))
    middle = float(around.value)
    variance = takings * middle + (own**2 + area**2) * middle**2
    value = float(quantile(chance, np.array(middle), np.array(variance)))
    note = (
        f"The whole number that so much of a negative binomial lies at or below, with this mean and the variance "
        f"{takings:,.2f} times the mean, plus ({own:.3f} squared plus {area:.3f} squared) times its square: "
        f"{variance:,.1f}."
    )
    terms = (
        (1, around),
        (1, stated("Packages that go at a time", "number", takings, note="How much families take at once.")),
        (1, stated(f"How far single troops lay off so far, as a part (tries: {whole['tries']:,})", "number", own)),
        (1, stated("How far the whole area may turn at once, as a part", "number", area)),
        (1, stated("Cases of ten that lie at or below", "number", 10 * chance)),
    )
    return Traced(label, "packages", value, "stated", terms, note=note)


def low(troop: TroopTrace, day: date, item: str) -> Traced:
    """The lower end of the range."""
    return _range(troop, day, item, "From", 0.1)


def high(troop: TroopTrace, day: date, item: str) -> Traced:
    """The upper end of the range."""
    return _range(troop, day, item, "To", 0.9)
