"""Invented exports of other systems: each as it comes, as the contract says the same, and what a person must correct.

Comes in: nothing. Goes out: EXPORTS. Troops, participants and items are those of trial.py.
"""

from dataclasses import dataclass, field
from datetime import date

from made_files import written

from pipelines.workflow.corrections import Corrections


@dataclass(frozen=True, repr=False)
class Export:
    """`own`: tables as trial.rows_of reads them; `proposed`: what the proposal must say by itself, column → fed by."""

    name: str
    payload: bytes
    own: dict[str, str]
    proposed: dict[str, str]
    said: Corrections = field(default_factory=Corrections)
    asked: tuple[str, ...] = ()  # what keeps it from being confirmed as proposed: about, once each
    cells: dict[str, str] = field(default_factory=dict)  # column of the table → a cell its places must name


def text(lines: str) -> bytes:
    """Lines as a file of text."""
    return lines.strip("\n").encode() + b"\n"


DEPOT = Export(
    "depot receipts.csv",  # title block, semicolons, comma decimals, day first, cases, a total below, two things in one
    text("""
Depot North: goods handed out;;;;;
Printed;28.02.2027;;;;

Receipt no.;Unit;Product;Handed out on;Cases;Movement type
R-1;0417 / Maple Hall;Gladiolus bulbs;14.02.2027;2;OUT
R-1;0417 / Maple Hall;Kitchen herb kit;14.02.2027;1,5;OUT
R-2;0031 / Oak Lane;Gladiolus bulbs;03.02.2027;4;START
R-3;0031 / Oak Lane;Gladiolus bulbs;16.02.2027;1;BACK
Grand total;;;;8,5;
"""),
    {
        "supply": """
        document  troop  item  date        packages  kind
        R-1       0417   GLA   2027-02-14  24        depot
        R-1       0417   HRB   2027-02-14  18        depot
        R-2       0031   GLA   2027-02-03  48        opening
        R-3       0031   GLA   2027-02-16  12        returned"""
    },
    {
        "document": "Receipt no.",
        "troop": 'Unit, part 1 by " / "',
        "item": "Product",
        "date": "Handed out on",
        "packages": "Cases, in cases",
        "kind": "Movement type",
    },
    Corrections(values=(("OUT", "depot"), ("START", "opening"), ("BACK", "returned"))),
    cells={"packages": "E", "troop": "B"},
)

WEB = Export(
    "web orders.csv",  # wide items, month first, a member's code and name in one, words of its own
    text("""
Order No,Group,Member,Order Date,Delivery,Order status,Status date,Gladiolus bulbs,Kitchen herb kit,"A bag
 for a community garden"
8001,0417,0417-01 Ann B,02/13/2027,SHIP,placed,02/13/2027,2,1,
8002,0031,0031-01 Cy D,02/03/2027,COURIER KID,accepted,02/15/2027,,3,
8003,0417,,02/16/2027,GIFT,placed,02/16/2027,,,4
"""),
    {
        "online_orders": """
        order  troop  participant  placed_on   mode     state     state_on    item  packages  goods_amount
        8001   0417   0417-01      2027-02-13  by_post  placed    2027-02-13  GLA   2         12.00
        8001   0417   0417-01      2027-02-13  by_post  placed    2027-02-13  HRB   1         7.25
        8002   0031   0031-01      2027-02-03  by_hand  taken_on  2027-02-15  HRB   3         21.75
        8003   0417   -            2027-02-16  donated  placed    2027-02-16  GIV   4         24.00"""
    },
    {
        "order": "Order No",
        "troop": "Group",
        "participant": 'Member, part 1 by " "',
        "placed_on": "Order Date",
        "mode": "Delivery",
        "state": "Order status",
        "state_on": "Status date",
        "goods_amount": "packages times price",
    },
    Corrections(
        values=(("SHIP", "by_post"), ("COURIER KID", "by_hand"), ("GIFT", "donated"), ("accepted", "taken_on"))
    ),
    cells={"packages": "H", "goods_amount": "H"},
)

PAYMENTS = Export(
    "payments.csv",  # a day that may be two, comma decimals
    text("""
Payment number;Unit no;Date paid;Amount paid;Payment status;Status date;Return reason
P1;0417;02/03/2027;"1.234,50";cleared;04/03/2027;
P2;0031;03/03/2027;20,00;cleared;05/03/2027;
P3;0417;03/03/2027;7,10;returned;05/03/2027;no cover
"""),
    {
        "remittances": """
        reference  troop  date        amount   state     state_on    reason
        P1         0417   2027-03-02  1234.50  cleared   2027-03-04  -
        P2         0031   2027-03-03  20.00    cleared   2027-03-05  -
        P3         0417   2027-03-03  7.10     returned  2027-03-05  no~cover"""
    },
    {"reference": "Payment number", "troop": "Unit no", "date": "Date paid", "amount": "Amount paid"},
    Corrections(dates=("day-first",)),
    asked=("dates",),
    cells={"amount": "D"},
)

SALES = Export(
    "sales by seller.xlsx",  # a sheet among others, two header rows, troop and week above the rows, a total
    written(
        {
            "About": [["Made by the area's own spreadsheet"], ["Version", 3]],
            "Sales": [
                ["Sales by seller"],
                ["Unit:", "0417"],
                ["Week ending:", date(2027, 2, 14)],
                [],
                ["Seller", "Packages taken", None, "Money", None, "Remarks"],
                [None, "GLA", "HRB", "Cash", "Card", None],
                ["0417-01", 5, 2, 20.5, 6, None],
                ["0417-02", 3, None, None, 18.25, "paid online"],
                ["Total", 8, 2, 20.5, 24.25, None],
            ],
        }
    ),
    {
        "families": """
        troop  week_ending  participant  item  packages  cash   card   note
        0417   2027-02-14   0417-01      GLA   5         -      -      -
        0417   2027-02-14   0417-01      HRB   2         -      -      -
        0417   2027-02-14   0417-01      -     -         20.50  6.00   -
        0417   2027-02-14   0417-02      GLA   3         -      -      paid~online
        0417   2027-02-14   0417-02      -     -         -      18.25  paid~online"""
    },
    {
        "troop": "cell B2",
        "week_ending": "cell B3",
        "participant": "Seller",
        "cash": "Money Cash",
        "card": "Money Card",
        "note": "Remarks",
    },
    cells={"packages": "B", "cash": "D", "troop": "B"},
)

BALANCES = Export(
    "open balances.xlsx",  # real dates and numbers; one column that is used for nothing
    written(
        {
            "Balances": [
                ["Unit number", "As of", "Amount owed", "Manager"],
                ["0417", date(2027, 2, 14), 120.25, "x"],
                ["0031", date(2027, 2, 14), -3, "y"],
            ]
        }
    ),
    {
        "organisation_balance": """
        troop  on          owed
        0417   2027-02-14  120.25
        0031   2027-02-14  -3.00"""
    },
    {"troop": "Unit number", "on": "As of", "owed": "Amount owed"},
    Corrections(left_out=("Manager",)),
    asked=("left_over",),
    cells={"owed": "C"},
)

COUNTS = Export(
    "counts.tsv",  # a constant for the file: the week; titles in place of codes
    text("""
Unit\tDescription\tStock count\tBroken
0417\tGladiolus bulbs\t40\t1
0417\tKitchen herb kit\t7\t0
0031\tGladiolus bulbs\t12\t
"""),
    {
        "stock": """
        troop  week_ending  item  on_hand  damaged
        0417   2027-02-14   GLA   40       1
        0417   2027-02-14   HRB   7        0
        0031   2027-02-14   GLA   12       -"""
    },
    {"troop": "Unit", "item": "Description", "on_hand": "Stock count", "damaged": "Broken"},
    Corrections(constants={"week_ending": "2027-02-14"}),
    asked=("lacking",),
    cells={"on_hand": "C"},
)

MEMBERS = Export(
    "members.csv",  # a roster under other names, yes and no in other words
    text("""
UnitNumber,MemberNumber,JoinDate,GuardianContact
0417,0417-03,"Oct 1, 2026",Yes
1282,1282-01,2 October 2026,No
"""),
    {
        "roster": """
        troop  participant  registered_on  contact_on_file
        0417   0417-03      2026-10-01     yes
        1282   1282-01      2026-10-02     no"""
    },
    {"troop": "UnitNumber", "participant": "MemberNumber", "registered_on": "JoinDate"},
)

EXPORTS = (DEPOT, WEB, PAYMENTS, SALES, BALANCES, COUNTS, MEMBERS)
