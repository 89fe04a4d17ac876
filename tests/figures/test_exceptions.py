"""Every rule: the smallest rows that trip it, and the nearest that do not.

In the rows T is the case's own troop, U another; T-01 is registered, with a contact on file, unless the case says
otherwise. All cases stand in one book: each has troops of its own.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from trial import FEEDS, SEASON, W1, W2, W3, Trial

from pipelines.definitions.exception_rules import rules
from pipelines.definitions.season import FollowUp, read_season, thresholds
from pipelines.definitions.starter_season import starter_season
from pipelines.figures.viewer import COORDINATOR
from pipelines.workflow import looking_back

W4 = date(2027, 3, 7)
HEADERS = {
    "troops": "troop level opened_on closed_on",
    "roster": "troop participant registered_on left_on contact_on_file",
    "supply": "document troop item date packages kind",
    "online_orders": "order troop participant placed_on mode state state_on item packages goods_amount shipping_amount",
    "collections": "troop on amount announced_on",
    "remittances": "reference troop date amount state state_on reason",
    "organisation_balance": "troop on owed",
    "pages": "troop participant on page_open own_picture people_told waits_for_caregiver",
    "last_season": "troop week_no participants packages item",
    "cover": "troop week_ending prepared_by prepared_on bank_balance balance_on note",
    "stock": "troop week_ending item received damaged on_hand",
    "families": "troop week_ending participant item packages cash card note",
    "stalls": "troop week_ending date start place item packages cash card participants note",
    "banked": "troop week_ending date amount slip note",
    "moves": "troop week_ending date item packages direction other_troop",
}
BASE = {"troops": "T younger - -\nU younger - -", "roster": "T T-01 2026-10-01 - yes\nU U-01 2026-10-01 - yes"}


def given(**tables: str) -> dict[str, str]:
    """Rows of some tables, without their headers; the base is added where a table is not named."""
    return BASE | tables


@dataclass
class Case:
    """One rule: rows that trip it as of a day, what is then listed, and rows nearby that do not trip it."""

    rule: str
    as_of: date
    trips: dict[str, str]
    subject: str
    severity: str
    at_stake: str | None
    what: str
    near: list[dict[str, str] | tuple[date, dict[str, str]]] = field(default_factory=list)
    troop: str = "T"


def so_far(lines: int, later: int) -> str:
    """Families of two weeks: `lines` lines of one package in the first, the same and more, `later`, in the second."""
    told = [f"T-{n // 2 + 1:02} {('GLA', 'HRB')[n % 2]} 1 - - -" for n in range(later)]
    return "\n".join([f"T {W1} {line}" for line in told[:lines]] + [f"T {W2} {line}" for line in told])


def twice(*lines: str) -> str:
    """The same lines of Families in two weeks."""
    return "\n".join(f"T {week} {line}" for week in (W1, W2) for line in lines)


def taken_by(*participants: str) -> str:
    """A week in which each of them took one package."""
    return "\n".join(f"T {W1} {code} GLA 1 - - -" for code in participants)


ORDER = "online_orders"
SUPPLIED = "D-T T GLA 2027-02-06 {} opening"
TWO_SUPPLIED = "D-T T GLA 2027-02-06 {} opening\nD-T T HRB 2027-02-06 {} opening"
OTHERS = "\n".join(f"{troop} {troop}-{n:02} 2026-10-01 - yes" for troop in "TU" for n in range(1, 4))
LATER = [given(stock="T 2027-02-14 GLA - - 0\nT 2027-02-21 GLA - - 0\nT 2027-02-28 GLA - - 0")]
CASES = [
    Case(
        "submission_missing", W1, given(), "2027-02-14", "ask", None,
        "Nothing has come in for the week to 14 February; no submission has come in yet.",
        near=[
            given(stock="T 2027-02-14 GLA - - 0"),
            given(troops="T younger 2027-02-15 -\nU younger - -"),
            given(troops="T younger - 2027-02-07\nU younger - -"),
            given(roster="U U-01 2026-10-01 - yes"),
        ],
    ),
    Case(
        "submission_missing", W2, given(), "2027-02-21", "act now", None,
        "Nothing has come in for the week to 21 February; no submission has come in yet.",
        near=[given(stock="T 2027-02-21 GLA - - 0")],
    ),
    Case(
        "not_counted", W1, given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - -"), "", "ask", "72.00",
        "1 item was not counted: Gladiolus bulbs; 12 packages should be on hand.",
        near=[
            given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - 12"),
            given(supply=SUPPLIED.format(0), stock="T 2027-02-14 GLA - - -"),
            given(supply=SUPPLIED.format(12), stock="T 2027-02-21 GLA - - 12"),
        ],
    ),
    Case(
        "packages_missing", W1, given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - 10"),
        "GLA", "ask", "12.00",
        "2 packages of Gladiolus bulbs ($12.00) are not accounted for: 12 should be on hand, 10 were counted.",
        near=[given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - 11")],
    ),
    Case(
        "packages_missing", W1, given(supply=SUPPLIED.format(24), stock="T 2027-02-14 GLA - - 2"),
        "GLA", "act now", "132.00",
        "22 packages of Gladiolus bulbs ($132.00) are not accounted for: 24 should be on hand, 2 were counted, as "
        "many as "
        "there should be cases.",
    ),
    Case(
        "packages_missing", W1, given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - 14"),
        "GLA", "ask", "12.00",
        "2 packages of Gladiolus bulbs more than expected were counted: 14 in place of 12.",
        near=[
            given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - 13"),
            given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA 14 - 14"),  # it waits for the supply record
        ],
    ),
    Case(
        "supply_differs", W1, given(stock="T 2027-02-14 GLA 12 - 12"), "GLA", "ask", "72.00",
        "Gladiolus bulbs: the troop received 12 packages, the supply record says 0; the count fits what the troop "
        "says by 12.",
        near=[
            given(stock="T 2027-02-14 GLA 1 - 1"),
            given(stock="T 2027-02-14 GLA 12 - 0"),  # the count fits the feed
            given(stock="T 2027-02-14 GLA - - 12"),  # the troop does not say what it received
            given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA 12 - 12"),
        ],
    ),
    Case(
        "move_differs", W1,
        given(
            stock="T 2027-02-14 GLA - - 0\nU 2027-02-14 GLA - - 0",
            moves="T 2027-02-14 2027-02-12 GLA 12 out U\nU 2027-02-14 2027-02-12 GLA 10 in T",
        ), "GLA from T", "ask", "12.00",
        "Troop T says it gave troop U 12 packages of Gladiolus bulbs, troop U says it got 10. 12 count.",
        near=[
            given(
                stock="T 2027-02-14 GLA - - 0\nU 2027-02-14 GLA - - 0",
                moves="T 2027-02-14 2027-02-12 GLA 12 out U\nU 2027-02-14 2027-02-12 GLA 12 in T",
            ),
            given(stock="T 2027-02-14 GLA - - 0", moves="T 2027-02-14 2027-02-12 GLA 12 out U"),  # U has yet to submit
            given(stock="T 2027-02-14 GLA - - 0", moves="T 2027-02-14 2027-02-12 GLA 12 out outside"),
        ], troop="U",
    ),
    Case(
        "move_differs", W1,
        given(
            stock="T 2027-02-14 GLA - - 0\nU 2027-02-14 GLA - - 0", moves="U 2027-02-14 2027-02-12 GLA 1 in T"
        ), "GLA to U", "ask", "6.00",
        "Troop T says it gave troop U 0 packages of Gladiolus bulbs, troop U says it got 1. 0 count.",
    ),
    Case(
        "stall_differs", W1,
        given(stalls="""T 2027-02-14 2027-02-13 09:00 Mill~gate GLA 5 - - - -
                        T 2027-02-14 2027-02-13 09:00 Mill~gate - - 20.00 - - -"""),
        "2027-02-13 09:00 Mill gate", "ask", "10.00",
        "The stall at Mill gate on 13 February took $20.00; its 5 packages come to $30.00: $10.00 short.",
        near=[given(stalls="""T 2027-02-14 2027-02-13 09:00 Mill~gate GLA 5 - - - -
                              T 2027-02-14 2027-02-13 09:00 Mill~gate - - 20.01 - - -""")],
    ),
    Case(
        "stall_differs", W1, given(stalls="T 2027-02-14 2027-02-13 - - - - 6.00 4.00 - -"),
        "2027-02-13", "watch", "10.00",
        "The stall on 13 February took $10.00; its 0 packages come to $0.00: $10.00 over.",
        near=[given(stalls="T 2027-02-14 2027-02-13 - - - - 6.00 3.99 - -")],
    ),
    Case(
        "cash_not_banked", W2,
        given(families="T 2027-02-14 T-01 - - 25.00 - -", stock="T 2027-02-21 GLA - - 0"), "", "ask", "25.00",
        "$25.00 of cash taken up to the week to 14 February is not in a deposit yet, the oldest from the week to "
        "14 February.",
        near=[
            given(families="T 2027-02-14 T-01 - - 24.99 - -"),
            given(families="T 2027-02-21 T-01 - - 25.00 - -"),
            given(families="T 2027-02-14 T-01 - - - 25.00 -"),
            given(families="T 2027-02-14 T-01 - - 25.00 - -", banked="T 2027-02-21 2027-02-15 0.01 - -"),
        ],
    ),
    Case(
        "cash_not_banked", W3,
        given(
            families="T 2027-02-14 T-01 - - 30.00 - -\nT 2027-02-21 T-01 - - 40.00 - -\n"
            "T 2027-02-28 T-01 - - 50.00 - -",
            banked="T 2027-02-21 2027-02-15 20.00 - -", stock="T 2027-02-28 GLA - - 0",
        ), "", "act now", "50.00",
        "$50.00 of cash taken up to the week to 21 February is not in a deposit yet, the oldest from the week to "
        "14 February.",
    ),
    Case(
        "deposit_over_cash", W1, given(banked="T 2027-02-14 2027-02-12 5.00 S1 -"), "", "ask", "5.00",
        "Deposits come to $5.00, the cash reported to $0.00: $5.00 more was banked than taken in.",
        near=[given(banked="T 2027-02-14 2027-02-12 4.99 S1 -")],
    ),
    Case(
        "deposit_twice", W2, given(banked="T 2027-02-14 2027-02-12 2.00 S1 -\nT 2027-02-21 2027-02-12 2.00 S1 -"),
        "2027-02-12 2.00 S1", "ask", "2.00",
        "The deposit of 12 February ($2.00, slip S1) is listed 2 times, first in the week to 14 February, last in the "
        "week to 21 February.",
        near=[
            given(banked="T 2027-02-14 2027-02-12 2.00 S1 -\nT 2027-02-21 2027-02-12 2.00 S2 -"),
            given(banked="T 2027-02-14 2027-02-12 2.00 S1 -\nT 2027-02-21 2027-02-12 2.01 S1 -"),
            (W1, given(banked="T 2027-02-14 2027-02-12 2.00 S1 -\nT 2027-02-21 2027-02-12 2.00 S1 -")),
        ],
    ),
    Case(  # twice within one file
        "deposit_twice", W1, given(banked="T 2027-02-14 2027-02-12 2.00 - -\nT 2027-02-14 2027-02-12 2.00 - -"),
        "2027-02-12 2.00", "ask", "2.00",
        "The deposit of 12 February ($2.00) is listed 2 times, all in the week to 14 February.",
    ),
    Case(
        "past_due", W2, given(collections="T 2027-02-10 1.00 2027-02-09"), "", "act now", "1.00",
        "$1.00 is past due since 10 February (11 days).",
        near=[
            given(collections="T 2027-02-10 0.99 2027-02-09"),
            (W1, given(collections="T 2027-02-10 1.00 2027-02-09")),  # four days: it is being collected
            given(collections="T 2027-02-10 1.00 2027-02-09", remittances="R-T T 2027-02-10 1.00 cleared 2027-02-12 -"),
        ],
    ),
    Case(
        "past_due", W2,
        given(
            collections="T 2027-02-14 9.00 2027-02-09", remittances="R-T T 2027-02-19 4.00 pending 2027-02-19 -"
        ), "", "ask", "9.00",
        "$9.00 is past due since 14 February (7 days); $4.00 is on its way.",
    ),
    Case(
        "may_not_be_covered", W2, given(collections="T 2027-03-07 5.00 2027-02-20"), "", "ask", "5.00",
        "$5.00 is due on 7 March; by the sale's records the bank holds $0.00. $5.00 may be lacking.",
        near=[
            given(collections="T 2027-03-07 4.99 2027-02-20"),
            given(collections="T 2027-03-08 5.00 2027-02-20"),
            given(collections="T 2027-03-07 5.00 2027-02-22"),
            given(collections="T 2027-03-07 5.00 2027-02-20", banked="T 2027-02-21 2027-02-16 0.01 - -"),
        ],
    ),
    Case(
        "may_not_be_covered", W2,
        given(
            collections="T 2027-02-28 80.00 2027-02-20", cover="T 2027-02-21 - - 30.00 2027-02-20 -",
            banked="T 2027-02-21 2027-02-16 100.00 - -",
        ), "", "act now", "50.00",
        "$80.00 is due on 28 February; the bank held $30.00 on 20 February. $50.00 may be lacking.",
    ),
    Case(
        "remittance_returned", W2, given(remittances="R-T T 2027-02-15 50.00 returned 2027-02-18 R01"),
        "R-T", "act now", "50.00",
        "The payment of $50.00 of 15 February (R-T) came back on 18 February: R01.",
        near=[
            given(remittances="R-T T 2027-02-15 50.00 returned 2027-02-22 R01"),
            given(remittances="""R-T T 2027-02-15 50.00 returned 2027-02-18 R01
                                 S-T T 2027-02-19 50.00 cleared 2027-02-20 -"""),
        ],
    ),
    Case(
        "books_differ", W2, given(organisation_balance="T 2027-02-19 1.00"), "", "ask", "1.00",
        "For 19 February the organisation says $1.00 is owed, we work out $0.00: a difference of $1.00.",
        near=[
            given(organisation_balance="T 2027-02-19 0.99"),
            given(organisation_balance="T 2027-02-22 1.00"),
            given(organisation_balance="T 2027-02-19 1.00\nT 2027-02-20 0.00"),
        ],
    ),
    Case(
        "books_differ", W2,
        given(
            organisation_balance="T 2027-02-19 0.00", remittances="R-T T 2027-02-15 50.00 cleared 2027-02-18 -"
        ), "", "ask", "50.00",
        "For 19 February the organisation says $0.00 is owed, we work out \N{MINUS SIGN}$50.00: a difference "
        "of $50.00, just "
        "what the "
        "payment R-T of 15 February comes to.",
    ),
    Case(
        "bank_differs", W2,
        given(cover="T 2027-02-21 - - 75.00 2027-02-19 -", banked="T 2027-02-21 2027-02-19 100.00 - -"),
        "", "ask", "25.00",
        "On 19 February the bank held $75.00; of the sale at least $100.00 should have been there: $25.00 less than "
        "that.",
        near=[
            given(cover="T 2027-02-21 - - 75.01 2027-02-19 -", banked="T 2027-02-21 2027-02-19 100.00 - -"),
            given(cover="T 2027-02-21 - - 75.00 2027-02-18 -", banked="T 2027-02-21 2027-02-19 100.00 - -"),
            given(cover="T 2027-02-14 - - 0.00 2027-02-13 -\nT 2027-02-21 - - 75.01 2027-02-14 -",
                  banked="T 2027-02-14 2027-02-12 100.00 - -"),
            given(cover="T 2027-02-21 - - 0.00 2027-02-19 -", families="T 2027-02-21 T-01 - - - 100.00 -"),
        ],
    ),
    Case(
        "bank_differs", W2, given(cover="T 2027-02-21 - - 500.00 2027-02-19 -"), "", "watch", "500.00",
        "On 19 February the bank held $500.00; of the sale at most $0.00 should have been there: $500.00 more than "
        "that.",
        near=[given(cover="T 2027-02-21 - - 499.99 2027-02-19 -")],
    ),
    Case(
        "family_behind", W4, given(families="T 2027-02-14 T-01 GLA 9 - - -"), "T-01", "ask", "54.00",
        "The family of T-01 owes $54.00; $54.00 of it is for packages taken up to the week to 20 February, the "
        "oldest in "
        "the week to 14 February. It has paid $0.00 so far.",
        near=[
            given(families="T 2027-02-14 T-01 GLA 8 - - -"),
            given(families="T 2027-02-28 T-01 GLA 9 - - -"),
            given(families="T 2027-02-14 T-01 GLA 9 - - -\nT 2027-03-07 T-01 - - 4.01 - -"),
            given(families="T 2027-02-14 T-01 GLA 9 - - -\nT 2027-03-07 T-01 GLA -1 - - -"),
            given(families="T 2027-02-14 troop GLA 9 - - -"),
        ],
    ),
    Case(
        "family_overpaid", W1, given(families="T 2027-02-14 T-01 - - 5.00 - -"), "T-01", "ask", "5.00",
        "The family of T-01 handed in $5.00 for packages of $0.00: $5.00 too much.",
        near=[
            given(families="T 2027-02-14 T-01 - - 4.99 - -"),
            given(families="T 2027-02-14 T-01 GLA 1 - - -\nT 2027-02-14 T-01 - - 10.99 - -"),
            given(online_orders="O-T T T-01 2027-02-10 by_hand taken_on 2027-02-11 GLA 5 30.00 -"),  # paid ahead
        ],
    ),
    Case(
        "leaver_with_debt", W2,
        given(roster="T T-01 2026-10-01 2027-02-21 yes", families="T 2027-02-14 T-01 GLA 1 - - -"),
        "T-01", "act now", "6.00", "T-01 left on 21 February; the family owes $6.00 of $6.00 charged.",
        near=[
            given(roster="T T-01 2026-10-01 2027-02-22 yes", families="T 2027-02-14 T-01 GLA 1 - - -"),
            given(
                roster="T T-01 2026-10-01 2027-02-21 yes",
                families="T 2027-02-14 T-01 GLA 1 - - -\nT 2027-02-14 T-01 - - 5.01 - -",
            ),
        ],
    ),
    Case(
        "ordered_above_last_season", W1,
        given(supply=SUPPLIED.format(120), last_season="T 6 1 300 HRB\nT 6 1 40 -"), "", "ask", "480.00",
        "120 packages for 1 participant; the troop's last season and the sales so far explain 40. 120 are still on "
        "hand.",
        near=[
            given(supply=SUPPLIED.format(119), last_season="T 6 1 40 -"),
            given(supply=SUPPLIED.format(120), last_season="T 6 1 4 HRB\nT 6 1 41 -"),
            given(
                supply=SUPPLIED.format(120),
                last_season="T 1 1 4 -\nT 6 1 40 -",
                families="T 2027-02-14 T-01 GLA 8 - - -",
            ),  # it sells twice as fast as last season
        ],
    ),
    Case(
        "nobody_selling", W2, given(supply="D-T T GLA 2027-02-07 12 opening", stock="T 2027-02-21 GLA - - 12"),
        "", "act now",
        "72.00",
        "The troop has had packages since 7 February; none of its 1 participant has sold one, and 12 packages are "
        "on hand.",
        near=[
            given(supply="D-T T GLA 2027-02-08 12 opening", stock="T 2027-02-21 GLA - - 12"),
            given(supply="D-T T GLA 2027-02-07 12 opening", families="T 2027-02-21 T-01 GLA 1 - - -"),
        ],
    ),
    Case(
        "no_contact", W1, given(roster="T T-01 2026-10-01 - no\nT T-02 2026-10-01 - yes"), "", "watch", None,
        "No caregiver's contact is known for 1 of 2 participants.",
        near=[
            given(roster="T T-01 2026-10-01 - -\nT T-02 2026-10-01 - yes"),
            given(roster="T T-01 2026-10-01 2027-02-14 no\nT T-02 2026-10-01 - yes"),
            given(roster="T T-00 2026-10-01 - no\n" + "\n".join(f"T T-{n:02} 2026-10-01 - yes" for n in range(1, 11))),
        ],
    ),
    Case(
        "page_not_open", W3, given(pages="T T-01 2027-02-20 no no 0 no"), "", "watch", None,
        "The pages of 1 of 1 participant are not open.",
        near=[
            (W2, given(pages="T T-01 2027-02-20 no no 0 no")),
            given(),
            given(pages="T T-01 2027-02-20 no no 0 no\nT T-01 2027-02-28 yes no 0 no"),
        ],
    ),
    Case(
        "page_waits", W3, given(pages="T T-01 2027-02-16 no no 0 yes\nT T-01 2027-02-23 no no 0 yes"),
        "", "watch", None,
        "1 page is ready and waits for a caregiver, the longest for 12 days.",
        near=[
            given(pages="T T-01 2027-02-17 no no 0 yes"),
            given(pages="T T-01 2027-02-16 no no 0 yes\nT T-01 2027-02-23 yes no 0 no"),
            given(pages="T T-01 2027-02-09 no no 0 yes\nT T-01 2027-02-14 no no 0 no\nT T-01 2027-02-23 no no 0 yes"),
            given(pages="T T-09 2027-02-10 no no 0 yes"),
        ],
    ),
    Case(
        "nothing_told", W3, given(pages="T T-01 2027-02-16 yes no 0 no"), "", "watch", None,
        "1 page is open and nobody was told of it yet.",
        near=[
            given(pages="T T-01 2027-02-17 yes no 0 no"),
            given(pages="T T-01 2027-02-16 yes no 0 no\nT T-01 2027-02-26 yes no 1 no"),
            given(pages="T T-01 2027-02-10 yes no 0 no\nT T-01 2027-02-26 no no 0 no"),
        ],
    ),
    Case(
        "posted_not_sent", W2, given(online_orders="O-T T T-01 2027-02-12 by_post placed 2027-02-12 GLA 5 30.00 -"),
        "O-T", "watch", "30.00", "Order O-T of 12 February (5 packages) is not sent after 9 days.",
        near=[
            given(online_orders="O-T T T-01 2027-02-13 by_post placed 2027-02-13 GLA 5 30.00 -"),
            given(online_orders="""O-T T T-01 2027-02-12 by_post placed 2027-02-12 GLA 5 30.00 -
                                   O-T T T-01 2027-02-12 by_post sent 2027-02-21 GLA 5 30.00 -"""),
            given(online_orders="O-T T T-01 2027-02-12 donated placed 2027-02-12 GIV 5 30.00 -"),
            given(online_orders="O-T T T-01 2027-01-24 by_post placed 2027-01-24 GLA 5 30.00 -"),
        ],
    ),
    Case(
        "order_waiting", W2, given(online_orders="O-T T T-01 2027-02-19 by_hand waiting 2027-02-19 GLA 2 12.00 -"),
        "O-T", "ask",
        "12.00", "Order O-T of 19 February (T-01, 2 packages, $12.00) waits for an answer until "
        "24 February, 18:00: day 2 of 5.",
        near=[
            given(online_orders="O-T T T-01 2027-02-20 by_hand waiting 2027-02-20 GLA 2 12.00 -"),
            given(online_orders="""O-T T T-01 2027-02-19 by_hand waiting 2027-02-19 GLA 2 12.00 -
                                   O-T T T-01 2027-02-19 by_hand refused 2027-02-21 GLA 2 12.00 -"""),
        ],
    ),
    Case(
        "order_waiting", W2, given(online_orders="O-T T troop 2027-02-16 by_hand waiting 2027-02-16 GLA 1 6.00 -"),
        "O-T",
        "act now", "6.00",
        "Order O-T of 16 February (the troop's own page, 1 package, $6.00) waits for an answer until "
        "21 February, 18:00: day 5 of 5.",
        near=[given(online_orders="O-T T troop 2027-02-15 by_hand waiting 2027-02-15 GLA 1 6.00 -")],
    ),
    Case(
        "order_lapsed", W2, given(online_orders="O-T T T-01 2027-02-15 by_hand waiting 2027-02-15 GLA 2 12.00 -"),
        "O-T", "ask",
        "12.00",
        "Order O-T of 15 February (T-01, 2 packages, $12.00) was not answered within 5 days; it is 6 days old.",
        near=[
            given(online_orders="O-T T T-01 2027-02-16 by_hand waiting 2027-02-16 GLA 2 12.00 -"),
            # 20 days: told long enough
            given(online_orders="O-T T T-01 2027-02-01 by_hand waiting 2027-02-01 GLA 2 12.00 -"),
        ],
    ),
    Case(
        "posted_under_minimum", W1,
        given(online_orders="O-T T T-01 2027-02-12 by_post placed 2027-02-12 GLA 3 18.00 -"),
        "O-T",
        "ask", "18.00", "Order O-T of 12 February (T-01) has 3 packages; posted orders start at 4. It is not sent yet.",
        near=[
            given(online_orders="O-T T T-01 2027-02-12 by_post placed 2027-02-12 GLA 4 24.00 -"),
            given(online_orders="O-T T T-01 2027-02-12 donated placed 2027-02-12 GIV 3 18.00 -"),
            given(online_orders="""O-T T T-01 2027-02-12 by_post placed 2027-02-12 GLA 3 18.00 -
                                   O-T T T-01 2027-02-12 by_post placed 2027-02-12 HRB 1 7.25 -"""),
            (date(2027, 2, 28), given(online_orders="O-T T T-01 2027-02-12 by_post placed 2027-02-12 GLA 3 18.00 -")),
        ],
    ),
    Case(
        "unregistered_seller", W1, given(families="T 2027-02-14 T-99 GLA 1 - - -"), "T-99", "ask", "6.00",
        "T-99 is not on the roster and has 1 package ($6.00).",
        near=[
            given(families="T 2027-02-14 T-01 GLA 1 - - -"),
            given(families="T 2027-02-14 troop GLA 1 - - -"),
            given(families="T 2027-02-14 T-99 - - - - -"),
            given(
                roster="T T-01 2026-10-01 - yes\nT T-99 2026-10-01 2027-02-10 yes",
                families="T 2027-02-14 T-99 GLA 1 - - -",
            ),  # left since: it was registered
        ],
    ),
    Case(
        "unregistered_seller", W1, given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 1 - - T-99 -"), "T-99", "ask", None,
        "T-99 is not on the roster and took part in the sale.",
    ),
    Case(
        "cases_for_packages", W1, given(supply=SUPPLIED.format(24), stock="T 2027-02-14 GLA - - 2"),
        "GLA", "ask", "132.00",
        "2 of Gladiolus bulbs were counted where 24 packages should be on hand: as many as there should be cases.",
        near=[
            given(supply=SUPPLIED.format(24), stock="T 2027-02-14 GLA - - 3"),
            given(supply=SUPPLIED.format(12), stock="T 2027-02-14 GLA - - 1"),  # 11 packages off
            given(supply=SUPPLIED.format(24), stock="T 2027-02-14 GLA 2 - 2"),  # it waits for the supply record
        ],
    ),
    Case(
        "cases_for_packages", W2,
        given(stalls="T 2027-02-14 2027-02-13 09:00 Mill GLA 2 - - - -\n"
              "T 2027-02-14 2027-02-13 09:00 Mill - - 100 44 - -"),
        "stall 2027-02-13 09:00 Mill", "ask", "132.00",
        "The stall at Mill on 13 February sold 2 packages and took $144.00: what they come to if they are cases.",
        near=[
            given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 2 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 100 43 - -"),
            given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 1 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 72 - - -"),
        ],
    ),
    Case(
        "week_is_cumulative", W2, given(families=so_far(8, 9)), "2027-02-21", "ask", "53.00",
        "The week to 21 February has 8 of the 8 lines of the weeks before again, each as large or larger: 8 packages "
        "may be counted twice.",
        near=[
            (W1, given(families=so_far(8, 9))),
            given(families=so_far(7, 8)),
            given(families=so_far(8, 8)),  # not larger than the weeks before
            given(families=so_far(8, 9).replace("T 2027-02-21 T-02 GLA 1", "T 2027-02-21 T-02 GLA 0")),
        ],
    ),
    Case(
        "week_sent_again", W2, given(families=twice("T-01 GLA 1 - - -", "T-01 HRB 1 - - -", "T-01 - - 5.00 - -")),
        "2027-02-21", "ask", "13.25",
        "Families of the week to 21 February is the same as of the week to 14 February: 2 packages may be counted "
        "twice.",
        near=[
            given(families=twice("T-01 GLA 2 - - -", "T-01 - - 5.00 - -")),
            given(families=twice("T-01 GLA 1 - - -", "T-01 HRB 1 - - -", "T-01 - - 5.00 - -")
                  + "\nT 2027-02-21 T-02 - - 1.00 - -"),
        ],
    ),
    Case(
        "week_sent_again", W2,
        given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 2 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 12 - - -\n"
              "T 2027-02-21 2027-02-13 - Mill GLA 2 - - - -\nT 2027-02-21 2027-02-13 - Mill - - 12 - - -"),
        "2027-02-21", "ask", "12.00",
        "1 stall of the week to 21 February stood already in the week to 14 February: 2 packages may be counted twice.",
        near=[given(
            stalls="T 2027-02-14 2027-02-13 - Mill GLA 2 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 12 - - -\n"
            "T 2027-02-21 2027-02-13 - Mill GLA 2 - - - -\nT 2027-02-21 2027-02-13 - Mill - - 11 - - -",
        )],
    ),
    Case(
        "decimal_slip", W1,
        given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 1 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 60 - - -"),
        "stall 2027-02-13 Mill", "ask", "54.00",
        "The stall on 13 February took $60.00 in cash, where $6.00 is what its packages make.",
        near=[
            given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 1 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 61 - - -"),
            given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 10 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 50 10 - -"),
        ],
    ),
    Case(  # of two amounts one slipped, the other way
        "decimal_slip", W1,
        given(stalls="T 2027-02-14 2027-02-13 - Mill GLA 11 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 6 0.60 - -"),
        "stall 2027-02-13 Mill", "ask", "59.40",
        "The stall on 13 February took $0.60 by card, where $60.00 is what its packages make.",
        near=[given(
            stalls="T 2027-02-14 2027-02-13 - Mill GLA 11 - - - -\nT 2027-02-14 2027-02-13 - Mill - - 6 0.61 - -"
        )],
    ),
    Case(  # the week's own packages, and what was owed before
        "decimal_slip", W2,
        given(families="T 2027-02-14 T-01 GLA 1 - - -\nT 2027-02-21 T-01 GLA 1 - - -\nT 2027-02-21 T-01 - - 120 - -"),
        "2027-02-21 T-01", "ask", "108.00",
        "T-01 handed in $120.00 in the week to 21 February, where $12.00 would fit.",
        near=[
            (W1, given(families="T 2027-02-14 T-01 GLA 1 - - -\nT 2027-02-21 T-01 - - 60 - -")),
            given(families="T 2027-02-21 T-01 GLA 2 - - -\nT 2027-02-21 T-01 - - 121 - -"),
            given(families="T 2027-02-21 T-01 GLA 20 - - -\nT 2027-02-21 T-01 - - 12 - -"),  # it paid a part
        ],
    ),
    Case(
        "decimal_slip", W1,
        given(families="T 2027-02-14 T-01 - - 6 - -", banked="T 2027-02-14 2027-02-12 600 S1 -"),
        "deposit 2027-02-12 S1", "ask", "594.00",
        "The deposit of 12 February is $600.00, where $6.00 of cash waited to be banked.",
        near=[
            given(families="T 2027-02-14 T-01 - - 6 - -", banked="T 2027-02-14 2027-02-12 601 S1 -"),
            given(families="T 2027-02-14 T-01 - - 5 - -", banked="T 2027-02-14 2027-02-12 50 S1 -"),  # $45.00 apart
        ],
    ),
    Case(
        "columns_swapped", W1,
        given(supply=TWO_SUPPLIED.format(18, 12), stock="T 2027-02-14 GLA - - 12\nT 2027-02-14 HRB - - 18"),
        "GLA and HRB", "ask", "36.00",
        "6 packages of Gladiolus bulbs seem to be missing and as many of Kitchen herb kit too many: both fit if the "
        "two are swapped on Stock.",
        near=[
            given(supply=TWO_SUPPLIED.format(17, 12), stock="T 2027-02-14 GLA - - 12\nT 2027-02-14 HRB - - 17"),
            given(supply=TWO_SUPPLIED.format(18, 12), stock="T 2027-02-14 GLA - - 12\nT 2027-02-14 HRB - - 17"),
            given(supply=TWO_SUPPLIED.format(24, 12), stock="T 2027-02-14 GLA - - 18\nT 2027-02-14 HRB - - 18"),
        ],
    ),
    Case(
        "columns_swapped", W1,
        given(
            supply=TWO_SUPPLIED.format(30, 24), stock="T 2027-02-14 GLA - - 22\nT 2027-02-14 HRB - - 22",
            families="T 2027-02-14 T-01 GLA 2 - - -\nT 2027-02-14 T-01 HRB 8 - - -",
        ), "GLA and HRB", "ask", "36.00",
        "6 packages of Gladiolus bulbs seem to be missing and as many of Kitchen herb kit too many: both fit if the "
        "two are swapped on Families.",
        near=[given(
            supply=TWO_SUPPLIED.format(30, 23), stock="T 2027-02-14 GLA - - 22\nT 2027-02-14 HRB - - 22",
            families="T 2027-02-14 T-01 GLA 2 - - -\nT 2027-02-14 T-01 HRB 7 - - -",
        )],
    ),
    Case(
        "columns_swapped", W2, given(stock="T 2027-02-14 GLA - 6 5"), "2027-02-14 GLA", "ask", "36.00",
        "6 packages of Gladiolus bulbs are damaged in the week to 14 February and 5 on hand.",
        near=[
            given(stock="T 2027-02-14 GLA - 6 6"),
            given(stock="T 2027-02-14 GLA - 5 0"),
            given(stock="T 2027-02-14 GLA - 6 -"),
        ],
    ),
    Case(
        "columns_swapped", W2,
        given(families="T 2027-02-14 T-01 - - 5 30 -", banked="T 2027-02-14 2027-02-12 20 S1 -\nT 2027-02-14 "
              "2027-02-13 10 S2 -"),
        "2027-02-14 cash and card", "ask", "30.00",
        "$30.00 was banked in the week to 14 February: just what it took by card, and not the $5.00 of cash.",
        near=[
            given(families="T 2027-02-14 T-01 - - 5.01 30 -", banked="T 2027-02-14 2027-02-12 30 S1 -"),
            given(families="T 2027-02-14 T-01 - - 5 30 -", banked="T 2027-02-14 2027-02-12 29 S1 -"),
            given(families="T 2027-02-14 T-01 - - 60 30 -", banked="T 2027-02-14 2027-02-12 30 S1 -"),  # a part
        ],
    ),
    Case(
        "another_troops_file", W2, given(roster=OTHERS, families=taken_by("U-01", "U-02", "U-03", "T-01", "T-02")),
        "2027-02-14 U", "ask", None,
        "3 participants in the week to 14 February are on the roster of troop U, and 2 on this troop's own.",
        near=[
            given(roster=OTHERS, families=taken_by("U-01", "U-02")),
            given(roster=OTHERS, families=taken_by("U-01", "U-02", "U-03", "T-01", "T-02", "T-03")),
            given(roster=OTHERS + "\nT U-03 2026-09-01 2026-10-01 yes", families=taken_by("U-01", "U-02", "U-03")),
        ],
    ),
    Case(
        "rate_fell", W2,
        given(
            supply="D-T T GLA 2027-02-09 30 opening",
            families="T 2027-02-14 T-01 GLA 20 - - -\nT 2027-02-21 T-02 GLA 1 - - -",
        ), "", "watch", "4.50",
        "The rate fell from $0.85 to $0.70 a package because 1 more takes part; 19 packages from the next tier.",
        near=[
            given(
                supply="D-T T GLA 2027-02-09 30 opening",
                families="T 2027-02-14 T-01 GLA 20 - - -\nT 2027-02-21 T-01 GLA 1 - - -",
            ),
            (W1, given(supply="D-T T GLA 2027-02-09 30 opening", families="T 2027-02-14 T-01 GLA 1 - - -")),
        ],
    ),
    # Money that is counted twice, or in the wrong place
    Case(
        "card_is_online", W1,
        given(
            online_orders="P-T T T-01 2027-02-10 by_hand taken_on 2027-02-11 GLA 2 12.00 -",
            families="T 2027-02-14 T-01 - - - 12.00 -",
        ), "T-01 2027-02-14", "ask", "12.00",
        "In the week to 14 February $12.00 stands as card money of T-01: just what its online orders come to, which "
        "the organisation has already.",
        near=[
            given(
                online_orders="P-T T T-01 2027-02-10 by_hand taken_on 2027-02-11 GLA 2 12.00 -",
                families="T 2027-02-14 T-01 - - - 11.99 -",
            ),
            given(
                online_orders="P-T T T-01 2027-02-10 by_hand waiting 2027-02-11 GLA 2 12.00 -",
                families="T 2027-02-14 T-01 - - - 12.00 -",
            ),
            given(
                online_orders="P-T T T-01 2027-02-10 by_hand taken_on 2027-02-11 GLA 2 12.00 -",
                families="T 2027-02-14 T-01 - - 12.00 - -",
            ),
        ],
    ),
    Case(
        "stall_and_page", W1,
        given(
            online_orders="P-T T - 2027-02-10 by_hand taken_on 2027-02-11 GLA 2 12.00 -",
            stalls="T 2027-02-14 2027-02-13 - Hall GLA 2 - - - -",
        ), "2027-02-13 Hall", "ask", "12.00",
        "The stall at Hall on 13 February is $12.00 short, and the troop's own page is paid ahead by just as much.",
        near=[
            given(
                online_orders="P-T T - 2027-02-10 by_hand taken_on 2027-02-11 GLA 3 18.00 -",
                stalls="T 2027-02-14 2027-02-13 - Hall GLA 2 - - - -",
            ),
            given(
                online_orders="P-T T - 2027-02-10 by_hand taken_on 2027-02-11 GLA 2 12.00 -",
                families="T 2027-02-14 troop GLA 2 - - -", stalls="T 2027-02-14 2027-02-13 - Hall GLA 2 - - - -",
            ),
        ],
    ),
    Case(
        "exchanged_over_damaged", W1,
        given(supply="X-T T GLA 2027-02-12 3 exchange", stock="T 2027-02-14 GLA - 2 -"), "GLA", "ask", "6.00",
        "1 package of Gladiolus bulbs more came in exchange than was ever reported damaged.",
        near=[given(supply="X-T T GLA 2027-02-12 3 exchange", stock="T 2027-02-14 GLA - 3 -")],
    ),
]  # fmt: skip
ELSEWHERE = {  # rules whose cases need several files, or a whole area
    "submission_late", "submission_held", "submission_lower", "few_taking_part", "average_out_of_line",
    "promise_broken", "slow_stock", "running_out",
    "move_agreed", "delivery_differs",  # test_taken_up.py
    "another_account", "bank_line_unknown", "bank_never_saw", "taken_twice",  # test_bank_exceptions.py
    "slot_twice", "slot_without_permission", "slot_given_back_late", "slot_nothing_reported",  # test_stall_calendar.py
    "stall_without_slot",
}  # fmt: skip
Row = dict[str, Any]
Found = Callable[[str, date, str], list[Row]]


def placed(text: str, number: int) -> str:
    """A case's text with its own two troops in place of T and U."""
    return re.sub(r"\b([TU])\b", lambda mark: f"{number}{'1' if mark[1] == 'T' else '2'}", text)


def variants() -> Iterator[tuple[int, Case, date, dict[str, str], bool]]:
    """Every set of rows with a number of its own: the case, its day, whether it trips."""
    number = 100
    for case in CASES:
        for place, one in enumerate([case.trips, *case.near]):
            number += 1
            as_of, tables = one if isinstance(one, tuple) else (case.as_of, one)
            yield number, case, as_of, tables, place == 0


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Found:
    """All cases' rows taken into one book, and its exceptions of a troop by rule and day."""
    tables = {name: [header] for name, header in HEADERS.items()}
    for number, _case, _as_of, given_rows, _trips in variants():
        for name, text in given_rows.items():
            tables[name] += placed(text, number).splitlines()
    tables["stock"].append("999 2027-03-07 GLA - - 0")  # so that four weeks are published
    tables["troops"].append("999 older - -")
    trial = Trial(tmp_path_factory.mktemp("cases"), SEASON)
    outcomes = trial.send(**{name: "\n".join(lines) for name, lines in tables.items() if len(lines) > 1})
    assert all(one.status == "taken in" for one in outcomes), [one.findings for one in outcomes]
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        listed = {day: figures.rows("exceptions", day) for day in (W1, W2, W3, W4)}

    def of(rule: str, day: date, troop: str) -> list[Row]:
        return [row for row in listed[day] if row["rule"] == rule and row["troop"] == troop]

    return of


def cases(*, trip: bool) -> list[Any]:
    """The sets of rows that trip their rule, or those that do not."""
    return [
        pytest.param(number, case, as_of, id=f"{case.rule}-{number}")
        for number, case, as_of, _tables, trips in variants()
        if trips == trip
    ]


@pytest.mark.parametrize(("number", "case", "as_of"), cases(trip=True))
def test_the_smallest_rows_trip_it(found: Found, number: int, case: Case, as_of: date) -> None:
    listed = found(case.rule, as_of, placed(case.troop, number))
    row = next((one for one in listed if one["subject"] == placed(case.subject, number)), None)
    assert row, listed
    assert row["what"] == placed(case.what, number)
    assert (row["severity"], row["at_stake"]) == (case.severity, case.at_stake and Decimal(case.at_stake))
    assert row["at_stake"] == sum_of(row["evidence"])
    assert row["evidence"]


@pytest.mark.parametrize(("number", "case", "as_of"), cases(trip=False))
def test_the_nearest_rows_do_not(found: Found, number: int, case: Case, as_of: date) -> None:
    listed = found(case.rule, as_of, placed(case.troop, number))
    subject = placed(case.subject, number)
    assert not [one for one in listed if one["subject"] == subject or not case.subject]


def sum_of(evidence: list[Row]) -> Decimal | None:
    """What evidence adds up to; None where no piece has an amount."""
    amounts = [piece["amount"] for piece in evidence if piece["amount"] is not None]
    return sum(amounts, Decimal(0)) if amounts else None


def test_evidence_names_file_sheet_and_cell(found: Found) -> None:
    """A stall's packages, cash and their cells in the bulk table."""
    number = next(number for number, case, *_ in variants() if case.rule == "stall_differs")
    (row,) = found("stall_differs", W1, placed("T", number))
    places = [(piece["file"].rpartition("/")[2], piece["cell"][0], piece["says"]) for piece in row["evidence"]]
    assert places == [("stalls.csv", "G", "5 packages of Gladiolus bulbs"), ("stalls.csv", "H", "cash and cheques")]


def test_every_rule_has_a_case() -> None:
    assert {case.rule for case in CASES} | ELSEWHERE == set(rules())
    assert all(case.near for case in CASES if case.rule not in {c.rule for c in CASES if c is not case})


def test_every_rule_is_explained() -> None:
    """A label, a meaning in sentences that names the rule's thresholds, and shows them as the season has them."""
    for name, rule in rules().items():
        assert rule.label, name
        assert rule.meaning.endswith("."), name
        named = set(re.findall(r"[a-z]+_[a-z_]+", rule.meaning)) & set(thresholds())
        assert set(rule.thresholds) - named <= {"without_amount"}, name
    assert "ended 15 or more days ago" in rules()["family_behind"].meaning_in(FollowUp())


def test_every_threshold_is_explained_and_stands_in_a_new_book() -> None:
    read = {name for rule in rules().values() for name in rule.thresholds}
    for name, (default, about) in thresholds().items():
        assert about.endswith("."), name
        assert f"# {name} = " in starter_season()
        assert name in read or name in ("average_from_participants", "without_amount"), (
            f"{name} ({default}) is read by no rule"
        )
    uncommented = re.sub(r"^# ([a-z_]+ = )", r"\1", starter_season(), flags=re.MULTILINE)
    assert read_season(uncommented).follow_up == FollowUp()


# Rules that need several files


def rows(trial: Trial, rule: str, day: date) -> list[Row]:
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        return [row for row in figures.rows("exceptions", day) if row["rule"] == rule]


STOCK = "troop week_ending item received damaged on_hand\n"
FAMILIES = "troop week_ending participant item packages cash card note\n"


def test_a_held_submission(trial: Trial) -> None:
    """A workbook's rows are held for one cell; the newer, mended ones clear it."""
    bad = {"stock": STOCK + "0417 2027-02-14 GLA - - 3\n0031 2027-02-14 GLA - - 4",
           "families": FAMILIES + "0417 2027-02-14 0417-01 GLA 2 - - -\n0417 2027-02-14 0417-01 XXX 1 - - -\n"
           "0417 2027-02-14 0417-02 - - 10.50 - -"}  # fmt: skip
    trial.send(**bad)
    (row,) = rows(trial, "submission_held", W1)
    assert (row["troop"], row["subject"], row["severity"], row["at_stake"]) == (
        "0417", "2027-02-14", "act now", Decimal("10.50"),
    )  # fmt: skip
    assert row["what"] == (
        "The submission of the week to 14 February is held: 1 cell needs mending; 3 packages and $10.50 are not "
        "counted yet."
    )
    assert row["evidence"][-1]["cell"] == "D3"
    assert "XXX" in row["evidence"][-1]["says"]
    trial.send(families=FAMILIES + "0417 2027-02-14 0417-01 GLA 2 - - -\n0417 2027-02-14 0417-02 - - 10.50 - -")
    assert not rows(trial, "submission_held", W1)


def test_what_is_held_is_not_missing(trial: Trial) -> None:
    trial.send(stock=STOCK + "0417 2027-02-14 GLA - - many\n0031 2027-02-14 GLA - - 4")
    assert [row["troop"] for row in rows(trial, "submission_missing", W1)] == []
    assert [row["troop"] for row in rows(trial, "submission_held", W1)] == ["0417"]


LOWER = {  # what the second submission of a week says where the first said 4 packages and $20.00
    "2027-02-14": (4, "15.01", None, ""),
    "2027-02-21": (3, "20.00", None, ""),
    "2027-02-28": (9, "99.00", None, ""),
    "2027-03-07": (4, "15.00", "5.00", "of the week to 7 March states $5.00 less"),
    "2027-03-14": (2, "20.00", "12.00", "of the week to 14 March states 2 packages less"),
    "2027-03-21": (2, "15.00", "5.00", "of the week to 21 March states $5.00 and 2 packages less"),
}


def test_a_newer_submission_states_less(trial: Trial) -> None:
    """$5.00 less trips it, $4.99 does not; two packages do, one does not; more never does."""

    def week(ends: str, packages: int, money: str) -> str:
        return f"0417 {ends} 0417-01 GLA {packages} - - -\n0417 {ends} 0417-01 - - {money} - -\n"

    trial.send(
        families=FAMILIES + "".join(week(ends, 4, "20.00") for ends in LOWER), stock=STOCK + "0417 2027-03-21 GLA - - 0"
    )
    trial.send(families=FAMILIES + "".join(week(ends, number, money) for ends, (number, money, *_) in LOWER.items()))
    found = {row["subject"]: row for row in rows(trial, "submission_lower", date(2027, 3, 21))}
    assert list(found) == [f"{ends} families" for ends, (*_, what) in LOWER.items() if what]
    for ends, (_packages, _cash, at_stake, what) in LOWER.items():
        if at_stake:
            row = found[f"{ends} families"]
            assert row["what"] == f"The newer submission {what} than the one before, on its sheet Families."
            assert row["at_stake"] == Decimal(at_stake) == sum_of(row["evidence"])


def test_a_late_submission(trial: Trial) -> None:
    """It came only with the others' next week; the others' own came before."""
    trial.send(stock=STOCK + "0417 2027-02-14 GLA - - 3")
    assert not rows(trial, "submission_late", W1)
    trial.send(stock=STOCK + "0417 2027-02-21 GLA - - 3\n0031 2027-02-14 GLA - - 4")
    (row,) = rows(trial, "submission_late", W2)
    assert (row["troop"], row["subject"], row["severity"]) == ("0031", "2027-02-14", "watch")
    assert row["what"] == "The submission of the week to 14 February came in when those of a later week were coming in."


def test_a_backlog_taken_in_at_once_is_not_late(trial: Trial) -> None:
    trial.send(stock=STOCK + "0417 2027-02-14 GLA - - 3\n0031 2027-02-14 GLA - - 3\n0417 2027-02-21 GLA - - 3")
    assert not rows(trial, "submission_late", W2)


def test_counts_that_are_another_troops(new_trial: Callable[..., Trial]) -> None:
    """Both counts are far off and what troop 0031 has on hand; with one of them a package apart nothing is asked."""

    def asked(second: int) -> list[Row]:
        trial = new_trial(SEASON + "\n[follow_up]\nanother_from_items = 2\n")
        trial.send(
            **FEEDS,
            supply=HEADERS["supply"] + "\nD1 0417 GLA 2027-02-06 30 opening\nD1 0417 HRB 2027-02-06 20 opening\n"
            "D2 0031 GLA 2027-02-06 12 opening\nD2 0031 HRB 2027-02-06 7 opening",
            stock=STOCK + f"0417 2027-02-14 GLA - - 12\n0417 2027-02-14 HRB - - {second}",
        )
        return rows(trial, "another_troops_file", W1)

    (row,) = asked(7)
    assert (row["troop"], row["subject"], row["at_stake"]) == ("0417", "2027-02-14 0031 counts", None)
    assert row["what"] == (
        "All 2 counts of the week to 14 February are what troop 0031 has on hand, and not what this troop should have."
    )
    assert [piece["cell"] for piece in row["evidence"]] == ["F2", "F3"]
    assert "0031" not in row["ask"]  # what is asked of a leader tells nothing of other troops
    assert not asked(8)


def test_counts_that_many_troops_have_tell_of_no_other(new_trial: Callable[..., Trial]) -> None:
    """One of 9 troops has the same counts, each of which half the area has: that may well be chance."""

    def asked(others: int) -> list[Row]:
        trial = new_trial(SEASON + "\n[follow_up]\nanother_from_items = 2\n")
        supply = ["D1 0417 GLA 2027-02-06 30 opening", "D1 0417 HRB 2027-02-06 20 opening",
                  "D2 0031 GLA 2027-02-06 12 opening", "D2 0031 HRB 2027-02-06 7 opening"]  # fmt: skip
        for k in range(others):
            for item, count in (("GLA", (12, 40)[k % 2]), ("HRB", (50, 7)[k % 2])):
                supply.append(f"E{k} 9{k:03} {item} 2027-02-06 {count} opening")
        people = [f"9{k:03} 9{k:03}-01 2026-10-01 - yes" for k in range(others)]
        stock = STOCK + "0417 2027-02-14 GLA - - 12\n0417 2027-02-14 HRB - - 7"
        feeds = FEEDS | {"roster": "\n".join([FEEDS["roster"], *people])}
        trial.send(**feeds, supply="\n".join([HEADERS["supply"], *supply]), stock=stock)
        return rows(trial, "another_troops_file", W1)

    assert len(asked(0)) == 1
    assert not asked(8)


# Rules that need an area


def area(new_trial: Callable[..., Trial], shares: list[tuple[int, int]], packages: list[int]) -> list[Row]:
    """Troops with so many taking part of so many registered, who take so many packages each: their exceptions."""
    people, taken = [], []
    for place, ((some, of), each) in enumerate(zip(shares, packages, strict=True), 1):
        people += [f"{place:04} {place:04}-{n:02} 2026-10-01 - yes" for n in range(of)]
        taken += [f"{place:04} 2027-02-14 {place:04}-{n:02} GLA {each} - - -" for n in range(some)]
    trial = new_trial()
    trial.send(roster="\n".join([HEADERS["roster"], *people]), families="\n".join([HEADERS["families"], *taken]),
               stock=STOCK + "0001 2027-02-14 GLA - - 0")  # fmt: skip
    with looking_back.figures(trial.book, COORDINATOR) as figures:
        return figures.rows("exceptions", W1)


def test_few_taking_part(new_trial: Callable[..., Trial]) -> None:
    """4 of 17 in an area of 74 %: hardly by chance. 1 of 4 may be, and 8 of 17 too."""
    others = [(15, 20), (9, 12), (6, 8), (22, 30), (7, 10), (11, 15), (3, 4), (13, 18)]
    listed = area(new_trial, [*others, (4, 17), (1, 4)], [3] * 10)
    (row,) = [row for row in listed if row["rule"] == "few_taking_part"]
    assert (row["troop"], row["severity"], row["at_stake"]) == ("0009", "ask", None)
    assert row["what"].startswith("4 of 17 taking part; in an area of 72 %")
    assert row["what"].endswith("this happens by chance less than once in 10,000 times.")
    assert [piece["says"] for piece in row["evidence"]][:1] == ["0009-04 does not take part yet"]
    assert len(row["evidence"]) == 13
    listed = area(new_trial, [*others, (8, 17), (1, 4)], [3] * 10)
    assert not [row for row in listed if row["rule"] == "few_taking_part"]


def test_an_average_out_of_line(new_trial: Callable[..., Trial]) -> None:
    """30 packages each among troops of 4 to 6 stand out; the same of only four participants are not compared."""
    shares = [(6, 8)] * 9
    listed = area(new_trial, shares, [4, 5, 6, 4, 5, 6, 5, 5, 30])
    (row,) = [row for row in listed if row["rule"] == "average_out_of_line"]
    assert (row["troop"], row["severity"]) == ("0009", "ask")
    assert row["what"] == (
        "30.0 packages for each of the 6 taking part; the median of 9 troops is 5.0, and half of them lie within "
        "1.0 of it."
    )
    listed = area(new_trial, [*shares[:8], (4, 8)], [4, 5, 6, 4, 5, 6, 5, 5, 30])
    assert not [row for row in listed if row["rule"] == "average_out_of_line"]


def test_a_low_average_is_no_share(new_trial: Callable[..., Trial]) -> None:
    """One package each among troops of 19 to 21: an average to watch, and nothing about who takes part."""
    listed = area(new_trial, [(6, 8)] * 9, [20, 19, 21, 20, 19, 21, 20, 20, 1])
    named = [(row["rule"], row["troop"], row["severity"]) for row in listed if row["about"] == "people"]
    assert named == [("average_out_of_line", "0009", "watch")]
