"""What a troop does next, and what it did well: sentences for its statement and its letter, from its figures.

Comes in: a Week and a troop. Goes out: a few sentences, the most pressing first; each names its amount, none blames.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator
from datetime import date, timedelta
from decimal import Decimal

from pipelines.definitions.exception_rules import rule, rules
from pipelines.reports.week import Row, Week, lowest_cover, named_day, packages, short_day

MOST_FAMILIES = 8  # codes of families that owe for long
NAMED = 4  # codes of families or items that a sentence names
FOR_THE_COORDINATOR = (  # better said than written, the organisation's to answer, or it names another troop
    "few_taking_part", "average_out_of_line", "promise_broken", "another_account", "delivery_differs",
)  # fmt: skip
NAMES_PEOPLE = ("families", "orders", "people")  # what is found about them may name a participant
SAID_BY_FIGURES = (  # rules whose step is worked out here from the figures, with what goes with it
    "past_due", "may_not_be_covered", "cash_not_banked", "deposit_over_cash", "packages_missing", "not_counted",
    "stall_differs", "family_behind", "family_overpaid", "submission_missing", "submission_late",
)  # fmt: skip
OF_THE_ORGANISATION = ("books_differ", "taken_twice")  # what the organisation is asked, and no leader
FAMILY_RULES = ("family_behind", "family_overpaid")
HELD = ("submission_held",)  # said first, as what is missing is
OLD_DAYS = 14  # from where on a family's debt is worth a reminder
ANSWER_DAYS = 4  # in which an answer is asked for
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def next_steps(week: Week, troop: str) -> list[str]:
    """What the troop is asked to do, the most pressing first; the next form comes last."""
    figures = [*_money_steps(week, troop), *_stock_steps(week, troop), *_family_steps(week, troop)]
    pressing = questions(week, troop, but=(*SAID_BY_FIGURES, *HELD), severities=("act now",))
    others = questions(week, troop, but=(*SAID_BY_FIGURES, *HELD), severities=("ask",))
    return [*_form_missing(week, troop), *pressing, *figures, *others, *_award_step(week, troop), _next_form(week)]


def _award_step(week: Week, troop: str) -> Iterator[str]:
    """Who could soon have an award."""
    near = sorted({row["participant"] for row in week.one_away.get(troop, [])})
    if near:
        named = f" ({_some(near)})" if week.with_families else ""
        many = f"{number_word(len(near)).capitalize()} participant{' is' if len(near) == 1 else 's are'}"
        yield f"{many} one step away from an award{named}: your screen Tonight says which step."


def questions(
    week: Week, troop: str, but: Collection[str] = (), severities: Collection[str] = ("act now", "ask")
) -> list[str]:
    """What was found at a troop and what there is to ask, but for some rules; nothing that need only be watched, that
    only the organisation knows, or that is promised already; money of the organisation first."""
    found = [
        row
        for row in week.exceptions.get(troop, [])
        if row["severity"] in severities
        and row["state"] == "open"
        and row["rule"] not in (*but, *FOR_THE_COORDINATOR, *OF_THE_ORGANISATION)
    ]
    if not week.with_families:
        found = [row for row in found if row["about"] not in NAMES_PEOPLE]
    of_rule: dict[str, list[Row]] = {}
    for row in sorted(found, key=lambda row: row["about"] != "organisation"):
        of_rule.setdefault(row["rule"], []).append(row)
    return [f"{rows[0]['what']}{_more(len(rows) - 1)} {rows[0]['ask']}" for rows in of_rule.values()]


def _more(others: int) -> str:
    """That there are others of a kind; the statement and the tables name them."""
    if not others:
        return ""
    return " There is one more like it." if others == 1 else f" There are {others} more like it."


def needs_a_letter(week: Week, troop: str) -> bool:
    """Whether something is open that should not wait; cash that is banked next week and the like are not enough."""
    row = week.standing[troop]
    return (
        any(found["severity"] != "watch" and found["state"] == "open" for found in week.exceptions.get(troop, []))
        or not row["submitted"]
        or row["past_due"] > 0
        or _may_not_be_covered(week, row)
        or any((item["missing"] or 0) != 0 for item in week.items.get(troop, []))
        or row["stall_short"] > 0
    )


def well_done(week: Week, troop: str) -> str:
    """One true good thing to say, the rarest first."""
    row, area = week.standing[troop], week.area
    if row["registered"] > 3 and row["registered_taking_part"] == row["registered"]:
        return f"Every one of your {row['registered']} registered participants is taking part. That is rare: well done."
    average, usual = row["average_per_active"], area.get("average_per_active")
    if average and usual and average >= usual * 1.1:
        return f"Those taking part sell {average:.0f} packages each, well above the area's {usual:.0f}. Well done."
    share, usual = row["share"], area.get("share")
    if share and usual and share >= usual and row["registered"] > 3:
        return (
            f"{row['registered_taking_part']} of your {row['registered']} registered participants take part. Thank you."
        )
    if row["past_due"] <= 0 and row["missing"] == 0 and row["submitted"]:
        return "Every package is accounted for and nothing is past due. Thank you for the care."
    if row["packages_sold"] > 0:
        return "Thank you for every evening and every stall behind these packages."
    return "Thank you for looking after this troop's sale."


def oldest_past_due(week: Week, troop: str) -> Row | None:
    """The oldest due date of which something is past due."""
    dues = week.dues.get(troop, [])
    return next(
        (due for due in dues if due["is_reached"] and due["unpaid"] > 0 and not due["is_being_collected"]), None
    )


def promised(week: Week, row: Row) -> str:
    """A promise in a sentence: You promised $120.00 for Friday 26 March (past due)."""
    what = f"You promised {week.money(row['promised'])}" if row["promised"] is not None else "You promised to see to it"
    by = "for" if row["promised"] is not None else "by"
    subject = f", {row['subject']}" if row["rule"] in FAMILY_RULES and week.with_families else ""
    return f"{what} {by} {named_day(row['until_on'])} ({rule(row['rule']).label.lower()}{subject}). Thank you."


def _is_promised(week: Week, troop: str, *rules: str, subject: str = "") -> bool:
    """Whether something is promised already, so that it need not be asked again."""
    return any(row["rule"] in rules and row["subject"] == subject for row in week.promises(troop))


def missing_weeks(week: Week, troop: str) -> list[date]:
    """The ends of the weeks of which nothing is in, oldest first; the week's own also before it is asked about."""
    ends = {
        date.fromisoformat(row["subject"]) for row in week.exceptions.get(troop, [])
        if row["rule"] == "submission_missing"
    }  # fmt: skip
    held = {row["subject"] for row in week.exceptions.get(troop, []) if row["rule"] in HELD}
    if not week.standing[troop]["submitted"] and week.as_of.isoformat() not in held:
        ends.add(week.as_of)
    return sorted(ends)


def _form_missing(week: Week, troop: str) -> Iterator[str]:
    yield from questions(week, troop, but=[one for one in rules() if one not in HELD])
    missing = missing_weeks(week, troop)
    if len(missing) == 1:
        yield (
            f"Send the form of {week.label_of(missing[0])}: without it these figures rest on the weeks before, and no "
            "count."
        )
    elif missing:
        named = _some([f"week {week.season.week_number(end)}" for end in missing])
        yield f"Send the forms of {named}: until they are in, every figure here may change."


def _may_not_be_covered(week: Week, row: Row) -> bool:
    """Whether the next due date is near and may not be covered; what lies further ahead can wait for its sales."""
    if not row["next_due"] or lowest_cover(row) >= 0:
        return False
    return bool((row["next_due_on"] - week.as_of).days <= week.season.follow_up.cover_within_days)


def _past_due_step(week: Week, row: Row, oldest: Row) -> str:
    """What to do about what is past due, so that a collection that is announced does not find the bank empty."""
    past, since = week.money(row["past_due"]), short_day(oldest["due_on"])
    if row["next_due_is_estimate"] or not row["next_due"]:
        return f"Pay the {past} that is past due since {since}, or tell us which day suits."
    asked = f"the {week.money(row['next_due'])} announced for {short_day(row['next_due_on'])}"
    match row["next_due_arrears"]:
        case "included":
            return f"Keep {asked} in the bank: it includes the {past} that is past due since {since}."
        case "apart":
            return f"Pay the {past} that is past due since {since}, and keep {asked} in the bank beside it."
        case _:
            return (
                f"{past} is past due since {since}. Before you pay it, ask whether {asked} includes it: that will be "
                "collected in any case, and must not find the bank empty."
            )


def _money_steps(week: Week, troop: str) -> Iterator[str]:
    row, money = week.standing[troop], week.money
    oldest = oldest_past_due(week, troop)
    if row["past_due"] > 0 and oldest and not _is_promised(week, troop, "past_due"):
        yield _past_due_step(week, row, oldest)
    if _may_not_be_covered(week, row) and not _is_promised(week, troop, "may_not_be_covered"):
        cash = (
            f" {money(row['not_banked'])} in cash is not in the bank yet."
            if row["not_banked"] > 0 else ""
        )  # fmt: skip
        lacking, by = money(-row["cover"]), short_day(row["next_due_on"])
        apart = ""
        if row["cover_if_apart"] is not None:
            apart = f" ({money(-row['cover_if_apart'])} if what is past due is collected apart)"
        if row["cover"] >= 0:
            lacking, apart = money(-lowest_cover(row)), " if what is past due is collected apart"
        yield (
            f"Before {by} bring {lacking} more into the bank{apart}: what is there may not cover what will be "
            f"collected.{cash} If that is difficult, tell us before that day."
        )
    elif row["not_banked"] > 0 and not _is_promised(week, troop, "cash_not_banked"):
        yield f"Bank the {money(row['not_banked'])} in cash that no deposit accounts for yet."
    elif row["not_banked"] < 0 and not _is_promised(week, troop, "deposit_over_cash"):
        yield f"Look through your deposits: they come to {money(-row['not_banked'])} more than the cash reported."
    explained = [one["at_stake"] for one in week.exceptions.get(troop, []) if one["rule"] == "stall_and_page"]
    left = row["stall_short"] - sum(explained, Decimal(0))  # what the troop's own page explains is asked by itself
    if left > 0 and not any(one["rule"] == "stall_differs" for one in week.promises(troop)):
        short = money(row["stall_short"])
        yield f"Look through your stalls: their takings are {short} below the price of what was sold."


def _stock_steps(week: Week, troop: str) -> Iterator[str]:
    items = week.items.get(troop, [])
    if not week.standing[troop]["submitted"]:
        return
    uncounted = [item["item"] for item in items if item["is_stocked"] and item["on_hand"] is None and item["available"]]
    if uncounted and not _is_promised(week, troop, "not_counted"):
        yield f"Count what is on hand of {_some(uncounted)}: no count of this week is in."
    settled = {row["subject"] for row in week.promises(troop) if row["rule"] == "packages_missing"}
    short = [item for item in items if (item["missing"] or 0) > 0 and not settled & {"", item["item"]}]
    lost = [f"{item['missing']} of {item['item']}" for item in short]
    if lost:
        number = sum(item["missing"] for item in short)
        are = "is" if number == 1 else "are"
        yield (
            f"{packages(number)} {are} not accounted for ({_some(lost)}): count once more, and look for a record that "
            "was not sent yet."
        )
    found = [f"{-item['missing']} of {item['item']}" for item in items if (item["missing"] or 0) < 0]
    if found:
        yield f"More was counted than should be on hand ({_some(found)}): a supply or a return may not be recorded yet."


def _family_steps(week: Week, troop: str) -> Iterator[str]:
    waiting = {row["subject"] for row in week.promises(troop) if row["rule"] in FAMILY_RULES}
    left_out = {"troop", *waiting, *_in_even_households(week.families.get(troop, []))}
    families = [row for row in week.families.get(troop, []) if row["participant"] not in left_out]
    old = {row["participant"]: row["owes_15_30"] + row["owes_over_30"] for row in families}
    behind = sorted((code for code, amount in old.items() if amount > 0), key=lambda code: (-old[code], code))
    if behind:
        total = week.money(sum(old.values(), Decimal(0)))
        one, has, each = ("family", "has", "it") if len(behind) == 1 else ("families", "have", "each")
        named = f" ({_some(behind, MOST_FAMILIES)})" if week.with_families else ""
        since, by = short_day(week.as_of - timedelta(days=OLD_DAYS)), week.as_of + timedelta(days=ANSWER_DAYS)
        many = number_word(len(behind)).capitalize()
        yield (
            f"{many} {one}{named} {has} {total} open from before {since}; could {each} say by {by:%A}: money, packages "
            "back, or a day?"
        )
    over = [
        f"{row['participant']} {week.money(row['overpaid'])}{_siblings_owe(week, row, families)}"
        for row in families
        if row["overpaid"] > 0
    ]
    if over:
        named = f": {_some(over)}" if week.with_families else ""
        yield f"Give back or explain what families handed in beyond their charge{named}."


def _siblings_owe(week: Week, over: Row, families: list[Row]) -> str:
    """What other children of the household owe: this may have been paid for them."""
    owing = [
        f"{row['participant']} owes {week.money(row['owes'])}"
        for row in families
        if row["household"] and row["household"] == over["household"] and row["owes"] > 0
    ]
    return f" (of the same household {', '.join(owing)})" if owing else ""


def _in_even_households(families: list[Row]) -> set[str]:
    """Children of a household that owes nothing together: one handed in what another owes, and nobody is asked."""
    owed = defaultdict[str, Decimal](Decimal)
    for row in families:
        owed[row["household"] or ""] += row["owes"]
    return {row["participant"] for row in families if row["household"] and owed[row["household"]] == 0}


def number_word(number: int) -> str:
    """A small number in words: six; a larger one in digits."""
    return NUMBERS[number] if number < len(NUMBERS) else f"{number:,}"


def _next_form(week: Week) -> str:
    following = week.season.week_ending(
        week.week_no + (1 if week.as_of >= week.season.week_ending(week.week_no) else 0)
    )
    if following > week.season.week_endings[-1]:
        return "Bring back what is left, and settle what is open: the sale's last week is over."
    return f"Send the next form soon after {short_day(following)}, with a count of every item."


def _some(names: list[str], most: int = NAMED) -> str:
    """Names in a row, the first few of them when there are many."""
    shown = names[:most]
    rest = len(names) - len(shown)
    if rest:
        return f"{', '.join(shown)} and {rest} more"
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
