"""A small book in which everything happens once: rows that the tests of ledger, trace and proof reason about.

Comes in: a Trial that knows troops 0417, 0031 and 1282. Goes out: the same with feeds and three weeks' sheets taken in.
"""

from trial import Trial

FEEDS = {
    "supply": """
        document  troop  item  date        packages  kind
        OP-1      0417   GLA   2027-02-06  48        opening
        OP-1b     0417   HRB   2027-02-06  24        opening
        D-7       0417   GLA   2027-02-24  12        depot
        B-2       0417   HRB   2027-02-25  6         returned
        X-1       0417   GLA   2027-02-26  2         exchange
        OP-2      0031   GLA   2027-02-06  24        opening""",
    "online_orders": """
        order  troop  participant  placed_on   mode     state     state_on    item  packages  goods_amount
        P-1    0417   0417-01      2027-02-10  by_post  sent      2027-02-12  GLA   5         30.00
        P-2    0417   0417-02      2027-02-11  by_post  placed    2027-02-11  HRB   4         29.00
        P-2    0417   0417-02      2027-02-11  by_post  withdrawn 2027-02-23  HRB   4         29.00
        H-1    0417   0417-01      2027-02-12  by_hand  waiting   2027-02-12  GLA   3         18.00
        H-1    0417   0417-01      2027-02-12  by_hand  taken_on  2027-02-16  GLA   3         18.00
        G-1    0417   troop        2027-02-13  donated  placed    2027-02-13  GIV   2         12.00""",
    "remittances": """
        reference  troop  date        amount  state     state_on    reason
        R-1        0417   2027-02-19  100.00  pending   2027-02-19  -
        R-1        0417   2027-02-19  100.00  cleared   2027-02-20  -
        R-1        0417   2027-02-19  100.00  returned  2027-02-25  R01
        R-2        0417   2027-02-26  60.00   cleared   2027-02-27  -""",
    "adjustments": """
        reference  troop  participant  date        amount  reason
        A-1        0417   -            2027-02-20  5.00    agreed
        A-2        0417   0417-02      2027-02-27  6.00    settled""",
    "collections": """
        troop  on          amount  announced_on
        0417   2027-02-26  70.00   2027-02-22""",
    "organisation_balance": """
        troop  on          owed
        0417   2027-02-27  250.00""",
}
SHEETS = {
    "cover": """
        troop  week_ending  prepared_by  bank_balance  balance_on
        0417   2027-02-21   leader       61.50         2027-02-20""",
    "stock": """
        troop  week_ending  item  received  damaged  on_hand
        0417   2027-02-14   GLA   48        3        30
        0417   2027-02-14   HRB   24        0        -
        0031   2027-02-14   GLA   24        0        24
        0417   2027-02-21   GLA   0         0        20
        0417   2027-02-21   HRB   0         0        20
        0031   2027-02-21   GLA   0         0        30
        0417   2027-02-28   GLA   12        1        -
        0417   2027-02-28   HRB   0         0        13""",
    "families": """
        troop  week_ending  participant  item  packages  cash   card  note
        0417   2027-02-14   0417-01      GLA   10        -      -     -
        0417   2027-02-14   0417-01      GIV   1         -      -     -
        0417   2027-02-14   0417-01      -     -         20.00  -     -
        0417   2027-02-14   0417-02      HRB   4         -      -     -
        0417   2027-02-14   0417-02      -     -         -      9.00  -
        0417   2027-02-21   0417-01      GLA   -2        -      -     -
        0417   2027-02-21   0417-01      -     -         -5.00  -     refund
        0417   2027-02-21   0417-02      -     -         90.00  -     -""",
    "stalls": """
        troop  week_ending  date        start  place   item  packages  cash   card   participants
        0417   2027-02-14   2027-02-13  09:00  Market  GLA   4         -      -      0417-02
        0417   2027-02-14   2027-02-13  09:00  Market  -     -         20.00  3.00   0417-02""",
    "banked": """
        troop  week_ending  date        amount  slip
        0417   2027-02-14   2027-02-13  25.00   S1
        0417   2027-02-21   2027-02-20  100.00  S2""",
    "moves": """
        troop  week_ending  date        item  packages  direction  other_troop
        0417   2027-02-21   2027-02-20  GLA   6         out        0031
        0031   2027-02-21   2027-02-20  GLA   5         in         0417
        1282   2027-02-21   2027-02-19  HRB   3         in         outside""",
}


def fill(trial: Trial) -> Trial:
    """All of it in one go."""
    trial.send(**FEEDS, **SHEETS)
    return trial
