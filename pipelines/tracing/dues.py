"""How what is due, to whom it is announced or estimated, and what the bank holds is worked out from cells.

Comes in: a TroopTrace, a day, a due date. Goes out: Traced trees.
"""

from datetime import date, timedelta
from functools import partial

from pipelines.tracing.evidence import Row
from pipelines.tracing.terms import AGES, Age, Traced, combined, not_below_0, of_cells, picked, stated, total
from pipelines.tracing.troop import TroopTrace

BANK_DAYS = 7  # a balance counts that was read for one of these days up to the day


def _dues(troop: TroopTrace, day: date) -> list[Row]:
    """The troop's due dates known by a day, oldest first: due_on, and its collection or the season's own share."""
    found: dict[date, Row] = {}
    for due in troop.evidence.season_dues:
        found[due["due_on"]] = {"due_on": due["due_on"], "rule": due, "collection": None}
    for row in troop.evidence.rows("collections"):  # in the order announced: the latest holds
        if row["announced_on"] <= day:
            found[row["on"]] = {"due_on": row["on"], "rule": None, "collection": row}
    return [found[due_on] for due_on in sorted(found)]


def _credits(troop: TroopTrace, day: date) -> Traced:
    return not_below_0("Credited, not below 0", "money", troop.of("standing", "credits", day))


def _share_of(troop: TroopTrace, due: Row, day: date) -> Traced:
    """The season's share of charged less proceeds as of a day."""
    rule = due["rule"]
    cell = troop.evidence.rule(f"dues[{rule['due_no']}].share", rule["share"])
    charged, proceeds = troop.of("standing", "charged", day), troop.of("standing", "proceeds", day)
    less = total(f"Charged less proceeds on {day}", "money", (1, charged), (-1, proceeds))
    return combined("product", "The season's share", "money", picked("Share", "share", cell), less)


def _due_by(troop: TroopTrace, due: Row, before: Traced | None = None) -> Traced:
    """All that must have been credited by a due date; `before`: the same of the due date before it."""
    row = due["collection"]
    if row is not None and row["arrears"] == "apart" and before is not None:
        return total("Due by then, what is older apart", "money", (1, before), (1, _announced(troop, row)))
    if row is None:
        return not_below_0("Due by then, an estimate", "money", _share_of(troop, due, due["rule"]["cutoff_on"]))
    amount = _announced(troop, row)
    return total("Due by then", "money", (1, _credits(troop, row["announced_on"])), (1, amount))


def _all_due_by(troop: TroopTrace, dues: list[Row]) -> list[Traced]:
    """What is due in all by each of these due dates, oldest first."""
    found: list[Traced] = []
    for due in dues:
        found.append(_due_by(troop, due, found[-1] if found else None))
    return found


def _announced(troop: TroopTrace, row: Row) -> Traced:
    note = f"announced on {row['announced_on']}"
    return of_cells("Announced", "money", [troop.evidence.cell(row, "collections", "amount", row["amount"], note=note)])


def _instalments(troop: TroopTrace, day: date) -> list[tuple[date, Traced, Traced]]:
    """Every due date reached by a day, oldest first: its day, what it asks for, what of that is unpaid."""
    reached = [due for due in _dues(troop, day) if due["due_on"] <= day]
    asked = _all_due_by(troop, reached)
    credited = _credits(troop, day)
    made = []
    before = None
    for place, due in enumerate(reached):
        label = f"Due in all by {due['due_on']}"
        due_in_all = combined("least", label, "money", *asked[place:]) if asked[place + 1 :] else asked[place]
        terms = [(1, due_in_all), *([(-1, before)] if before else [])]
        instalment = total(f"Instalment of {due['due_on']}", "money", *terms)
        left = not_below_0("Not credited yet", "money", total("Left", "money", (1, due_in_all), (-1, credited)))
        unpaid = combined("least", f"Unpaid of {due['due_on']}", "money", instalment, left)
        made.append((due["due_on"], instalment, unpaid))
        before = due_in_all
    return made


def _is_being_collected(troop: TroopTrace, due_on: date, day: date) -> bool:
    """Whether a due date may still be clearing on a day, and no payment made since has come back."""
    came_back = any(
        row["state"] == "returned"
        and row["date"] >= due_on
        and row["from_on"] <= day
        and (row["until_on"] is None or row["until_on"] > day)
        for row in troop.evidence.rows("remittances")
    )
    return (day - due_on).days <= troop.evidence.rules["settle_days"] and not came_back


def being_collected(troop: TroopTrace, day: date, _part: str) -> Traced:
    """What is unpaid of the dues that may still be clearing."""
    due = [(1, unpaid) for on, _asked, unpaid in _instalments(troop, day) if _is_being_collected(troop, on, day)]
    return total("Being collected", "money", *due)


def _past_due(troop: TroopTrace, day: date, _part: str, age: Age) -> Traced:
    low, high = AGES[age]
    late = [
        (1, unpaid)
        for on, _asked, unpaid in _instalments(troop, day)
        if not _is_being_collected(troop, on, day) and low <= (day - on).days <= high
    ]
    return total("Past due", "money", *late)


past_due_0_7, past_due_8_14 = partial(_past_due, age="0_7"), partial(_past_due, age="8_14")
past_due_15_30, past_due_over_30 = partial(_past_due, age="15_30"), partial(_past_due, age="over_30")


def _next(troop: TroopTrace, day: date) -> Row | None:
    return next((due for due in _dues(troop, day) if due["due_on"] > day), None)


def next_due_on(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The first due date to come."""
    due = _next(troop, day)
    if due is None:
        return stated("Next due on", "date", None, note="There is no due date after this day.")
    row = due["collection"]
    if row:
        return picked("Next due on", "date", troop.evidence.cell(row, "collections", "on", row["on"]))
    return picked("Next due on", "date", troop.evidence.rule(f"dues[{due['rule']['due_no']}].on", due["due_on"]))


def next_due(troop: TroopTrace, day: date, _part: str) -> Traced:
    """What the first due date to come asks for."""
    due = _next(troop, day)
    if due is None:
        return stated("Next due", "money", None, note="There is no due date after this day.")
    if due["collection"]:
        return _announced(troop, due["collection"])
    taken_off = [(-1, troop.of("standing", name, day)) for name in ("credits", "being_collected")]
    return not_below_0("Next due", "money", total("Still to pay", "money", (1, _share_of(troop, due, day)), *taken_off))


def cover_if_apart(troop: TroopTrace, day: date, _part: str) -> Traced:
    """What the bank would hold if what is past due is collected beside an announced collection that does not say."""
    due, past_due = _next(troop, day), troop.of("standing", "past_due", day)
    if due is None or not due["collection"] or due["collection"]["arrears"] or not past_due.value:
        note = "Nothing is past due, no collection is announced, or it says whether it includes what is past due."
        return stated("Cover, past due apart", "money", None, note=note)
    return total("Cover, past due apart", "money", (1, troop.of("standing", "cover", day)), (-1, past_due))


def lacking(troop: TroopTrace, day: date, _part: str) -> Traced:
    """By how much the bank falls short of what is ahead."""
    short = total("Less than nothing by", "money", (-1, troop.of("standing", "cover", day)))
    return not_below_0("Lacking", "money", short)


def bank(troop: TroopTrace, day: date, _part: str) -> Traced:
    """The balance that somebody read, else what should be there."""
    read = [
        row
        for row in troop.evidence.rows("cover")
        if row["bank_balance"] is not None
        and row["balance_on"] is not None
        and day - timedelta(days=BANK_DAYS - 1) <= row["balance_on"] <= day
    ]
    if not read:
        return troop.of("standing", "in_bank", day)
    row = max(read, key=lambda row: (row["balance_on"], row["week_ending"]))
    note = f"read for {row['balance_on']}"
    return picked(
        "Balance read", "money", troop.evidence.cell(row, "cover", "bank_balance", row["bank_balance"], note=note)
    )


# Due dates, each by its day


def _due(troop: TroopTrace, day: date, part: str) -> Row:
    return next(due for due in _dues(troop, day) if due["due_on"].isoformat() == part)


def amount(troop: TroopTrace, day: date, part: str) -> Traced:
    """What was announced for a due date."""
    row = _due(troop, day, part)["collection"]
    if row is None:
        return stated("Announced", "money", None, note="No collection is announced for this day.")
    return _announced(troop, row)


def due_by(troop: TroopTrace, day: date, part: str) -> Traced:
    """What must have been credited by a due date that is reached."""
    due = _due(troop, day, part)
    if due["due_on"] > day:
        return stated("Due by then", "money", None, note="This day is still to come.")
    return _all_due_by(troop, [one for one in _dues(troop, day) if one["due_on"] <= due["due_on"]])[-1]


def _one_of(troop: TroopTrace, day: date, part: str, place: int) -> Traced:
    for on, *made in _instalments(troop, day):
        if on.isoformat() == part:
            return made[place]
    return stated("Instalment", "money", None, note="This day is still to come.")


instalment, unpaid = partial(_one_of, place=0), partial(_one_of, place=1)
