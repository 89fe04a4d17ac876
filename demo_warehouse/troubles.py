"""Which troop has which trouble, in which week: one table, for tests, documents and whoever shows the demo.

Comes in: nothing. Goes out: TROUBLES (the demo area's), `drawn` (some at random for a small area), and a Plan to look
them up while the season is made. Whatever is not in the table goes well.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from random import Random

KINDS = {
    "late": "a week's workbook came in with the next week's",
    "missing": "no workbook came in",
    "held": "a workbook with faults: a text for packages, an unknown item over filled cells, an error cell",
    "held_then_mended": "a workbook with such faults, followed by one without",
    "resubmitted_lower": "a second workbook with fewer packages and less money than the first",
    "packages_missing": "fewer packages on hand than there should be",
    "cases_typed": "on hand counted in cases in place of packages",
    "one_sided_move": "the giver tells of a move, the receiver does not",
    "moves_differ": "giver and receiver tell different numbers",
    "not_counted": "some items not counted at the week's end",
    "lost_zero": "the troop's code without its leading zero, from this week on",
    "bank_fee": "the bank took a fee",
    "float_taken": "change was taken out of the bank",
    "cheque_came_back": "a family's cheque came back",
    "gift_at_stall": "somebody gave money at a stall without taking packages",
    "arrears_said": "a collection that says whether what is past due is part of it",
    "bank_lines": "the lines of the troop's own bank, one of which nobody reported",
    "collected_twice": "the bank paid the organisation the same amount twice",
    "another_account": "a deposit came into another troop's account",
    "sent_twice": "a payment came back and was sent again, and once more",
    "stall_and_page": "packages of the troop's own page were handed over at a stall, which is short by as much",
    "exchanged_more": "more packages came in exchange than were ever damaged",
    "household": "one child handed in what the child before it, of the same household, owes",
    "changed_troops": "a participant went over to another troop, and still owes in the first",
    "guest_at_stall": "somebody of another troop worked at the stall, and so takes part in her own",
    "rate_fell": "one more takes part, and the average falls into a lower tier",
    "stall_short": "a stall took less than its packages cost",
    "cash_unbanked": "no cash banked since this week",
    "past_due": "nothing sent to the organisation since this week",
    "returned_remittance": "the bank sent a remittance back",
    "collection_under_way": "a collection taken but not yet cleared",
    "bank_may_not_cover": "too much ordered, families slow to pay, and a bank balance below the next collection",
    "slow_stock": "several cases of one item that hardly sells",
    "about_to_run_out": "nearly nothing left of an item that sells",
    "books_differ": "the organisation's own figure is not ours",
    "families_behind": "several families take packages and pay nothing since this week",
    "family_overpaid": "a family handed in more than its packages cost",
    "paid_ahead": "online orders to be brought by hand are paid, the packages not yet collected",
    "unregistered_seller": "somebody sold who is not on the roster",
    "leaver_with_debt": "a participant left and owes for packages",
    "hand_delivered": "many online orders brought by hand, which pay for packages and add none",
    "orders_waiting": "online orders that no caregiver answered",
    "posted_under_minimum": "a posted order smaller than the season allows",
    "nobody_selling": "packages in the stockroom, nobody takes any",
    "tiny_troop": "a rate that means nothing: one of four taking part",
    "few_taking_part": "few of many participants take part",
}


@dataclass(frozen=True, slots=True)
class Trouble:
    """One trouble. `other` is the other troop of a move; `number` packages or cents, as the kind says."""

    kind: str
    troop: str
    week: int
    what: str
    other: str = ""
    participant: str = ""
    item: str = ""
    number: int = 0


TROUBLES = (
    Trouble("paid_ahead", "0117", 6, "three families have orders of 18 packages each, paid online, not collected"),
    Trouble("about_to_run_out", "0117", 6, "two sunflower kits are left after a brisk week", item="SUN"),
    Trouble("family_overpaid", "0232", 6, "0232-05 handed in $40.00 too much", participant="0232-05", number=4000),
    Trouble("posted_under_minimum", "0232", 5, "a posted order of two packages", participant="0232-05", number=2),
    Trouble("float_taken", "0232", 3, "$40.00 of change for the stalls", number=4000),
    Trouble("bank_fee", "0305", 5, "a fee of $12.00", number=1200),
    Trouble("bank_lines", "0305", 1, "a statement of the bank came in; nobody reported $18.40", number=1840),
    Trouble("another_account", "0232", 4, "week 4's deposit came into 0671's account", other="0671"),
    Trouble("collected_twice", "0305", 6, "the second due date's payment left the bank twice"),
    Trouble("gift_at_stall", "0563", 5, "$20.00 given at a stall", number=2000),
    Trouble("household", "0563", 6, "0563-02 handed in what 0563-01 owes", participant="0563-02"),
    Trouble("arrears_said", "0671", 6, "the next collection includes what is past due"),
    Trouble("cheque_came_back", "0909", 5, "a cheque of $24.00 came back", participant="0909-06", number=2400),
    Trouble("stall_and_page", "0909", 6, "four bags of the page's order left from a stall", item="LIL", number=4),
    Trouble("lost_zero", "0417", 4, "a new spreadsheet calls the troop 417"),
    Trouble("cash_unbanked", "0448", 3, "the last deposit was in week 2"),
    Trouble("stall_short", "0448", 5, "a stall took $46.50 less than its packages cost", number=4650),
    Trouble("past_due", "0448", 4, "nothing was sent for the first due date or the second"),
    Trouble("hand_delivered", "0671", 2, "twelve families bring 8 to 12 packages each to online buyers"),
    Trouble("orders_waiting", "0671", 6, "orders placed 11, 8 and 3 days before the week's end wait for an answer"),
    Trouble("moves_differ", "0726", 6, "0726 says 12 packages out, 2905 says 10 in", other="2905", number=10),
    Trouble("held", "0854", 6, "a text for packages, a column TUL, and #REF! for on hand"),
    Trouble("resubmitted_lower", "1043", 5, "the second workbook has 14 gladiolus bags and $98.00 less", number=14),
    Trouble("books_differ", "1043", 6, "the organisation does not know the last remittance yet"),
    Trouble(
        "bank_may_not_cover",
        "1128",
        6,
        "over-ordered, and the account paid for a camp: the bank is below the next collection",
    ),
    Trouble("slow_stock", "1128", 1, "eight cases of anemones that hardly sell", item="ANE", number=8),
    Trouble("slow_stock", "3257", 1, "six cases of gladioli that hardly sell, others lack them", item="GLA", number=6),
    Trouble("exchanged_more", "3257", 6, "three bags of dahlias exchanged, none was damaged", item="DAH", number=3),
    Trouble("held_then_mended", "1277", 3, "the first workbook had faults, a second came the same week"),
    Trouble("late", "1277", 5, "week 5's workbook came with week 6's"),
    Trouble("not_counted", "1277", 6, "three items were not counted"),
    Trouble("guest_at_stall", "1462", 6, "2345-01 worked at 1462's stall", other="2345", participant="2345-01"),
    Trouble("rate_fell", "2345", 6, "2345-01 takes part now: the average is below 40"),
    Trouble("few_taking_part", "1519", 1, "7 of 27 take part", number=7),
    Trouble("leaver_with_debt", "1519", 4, "1519-09 left in week 4 and owes for packages", participant="1519-09"),
    Trouble("missing", "1684", 5, "no workbook for week 5"),
    Trouble("missing", "1684", 6, "no workbook for week 6"),
    Trouble("past_due", "1684", 4, "nothing was sent for the first due date or the second"),
    Trouble("families_behind", "1926", 2, "six families pay nothing", number=6),
    Trouble("returned_remittance", "1926", 6, "the second due date's remittance came back on its third day"),
    Trouble("cases_typed", "2048", 6, "the item with most on hand, in whole cases, was counted in cases"),
    Trouble("tiny_troop", "2173", 1, "1 of 4 takes part", number=1),
    Trouble("books_differ", "2436", 6, "the organisation does not know week 6's fetch yet", item="GLA", number=24),
    Trouble("one_sided_move", "2691", 5, "2691 says 12 packages out, 3184 says nothing", other="3184", number=12),
    Trouble("changed_troops", "2588", 5, "2588-04 went over to 1462", other="1462", participant="2588-04"),
    Trouble("sent_twice", "2691", 6, "the second payment came back, was sent on the next day and on the day after"),
    Trouble("packages_missing", "2862", 6, "9 packages are not accounted for", number=9),
    Trouble("collection_under_way", "2862", 6, "the second due date's collection has not cleared"),
    Trouble("unregistered_seller", "2905", 4, "2905-31 took 10 packages", participant="2905-31", number=10),
    Trouble("collection_under_way", "2905", 6, "the second due date's collection has not cleared"),
    Trouble("nobody_selling", "3016", 1, "an opening order, and no participant takes any"),
    Trouble("past_due", "3016", 4, "nothing was sent for the first due date or the second"),
)

_NUMBERS = {"family_overpaid": 4000, "posted_under_minimum": 2, "stall_short": 1250, "moves_differ": 10}
_NUMBERS |= {"resubmitted_lower": 14, "few_taking_part": 1, "families_behind": 3, "books_differ": 12, "slow_stock": 3}
_NUMBERS |= {"one_sided_move": 6, "packages_missing": 3, "unregistered_seller": 4, "tiny_troop": 1}
_NUMBERS |= {"bank_fee": 1200, "float_taken": 4000, "gift_at_stall": 2000, "bank_lines": 1840}
_NUMBERS |= {"cheque_came_back": 2400, "stall_and_page": 4, "exchanged_more": 3}
_PARTICIPANTS = {"unregistered_seller": "90", "leaver_with_debt": "01", "family_overpaid": "01"}
_PARTICIPANTS |= {"cheque_came_back": "01", "household": "02", "changed_troops": "01", "guest_at_stall": "01"}
_ITEMS = {"about_to_run_out": "SUN", "slow_stock": "ANE", "books_differ": "GLA"}
_ITEMS |= {"stall_and_page": "LIL", "exchanged_more": "DAH"}
TWO_SIDED = ("one_sided_move", "moves_differ", "another_account", "changed_troops", "guest_at_stall")


def drawn(codes: Sequence[str], weeks: int, rng: Random) -> list[Trouble]:
    """Up to three troubles for each troop of a small area, in any week."""
    found = []
    for code in codes:
        others = [other for other in codes if other != code]
        kinds = [kind for kind in KINDS if others or kind not in TWO_SIDED]
        for kind in rng.sample(kinds, rng.randint(0, 3)):
            other = rng.choice(others) if kind in TWO_SIDED else ""
            whose = other if kind == "guest_at_stall" else code
            participant = f"{whose}-{_PARTICIPANTS[kind]}" if kind in _PARTICIPANTS else ""
            number, item = _NUMBERS.get(kind, 0), _ITEMS.get(kind, "")
            week = rng.randint(1, weeks)
            found.append(Trouble(kind, code, week, KINDS[kind], other, participant, item, number))
    return found


class Plan:
    """The troubles of one area, looked up by kind, troop and week."""

    def __init__(self, troubles: Iterable[Trouble]) -> None:
        self._found: dict[tuple[str, str], list[Trouble]] = {}
        for trouble in sorted(troubles, key=lambda trouble: trouble.week):
            self._found.setdefault((trouble.kind, trouble.troop), []).append(trouble)

    def of(self, kind: str, troop: str) -> Trouble | None:
        """The first trouble of a kind that a troop has, in whatever week."""
        return next(iter(self._found.get((kind, troop), ())), None)

    def at(self, kind: str, troop: str, week: int) -> Trouble | None:
        """The trouble of a kind that a troop has in just this week."""
        return next((trouble for trouble in self._found.get((kind, troop), ()) if trouble.week == week), None)

    def since(self, kind: str, troop: str, week: int) -> Trouble | None:
        """The trouble of a kind that a troop has had since this week or an earlier one."""
        return next((trouble for trouble in self._found.get((kind, troop), ()) if trouble.week <= week), None)
