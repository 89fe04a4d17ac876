"""The measures of an item of a troop, and of an item in all troops: items.csv, in its order.

Comes in: the ways of declaring. Goes out: ITEMS, ITEM_TOTALS.
"""

from pipelines.definitions.measures.declaring import CSV, Count, Entries, Measure, Own, Ratio, Sum
from pipelines.definitions.measures.declaring import ITEMS as SHEET
from pipelines.definitions.measures.standing import AT_STALLS, AVAILABLE, SUPPLIED, TAKEN, TROOP, also

# fmt: off
ITEMS = (
    TROOP,
    Measure("item", "Item", "code", "The item's code; a new price is a new code.", shown=(CSV,)),
    Measure("supplied", "Supplied", "packages", "Opening order and depot packages, less those taken back.",
            made=Entries(**SUPPLIED), shown=(CSV, SHEET)),
    Measure("moved_in", "Moved in", "packages", "Packages that came from other troops.",
            made=Entries(move_in=+1), shown=(CSV, SHEET)),
    Measure("moved_out", "Moved out", "packages", "Packages given to other troops.",
            made=Entries(move_out=+1), shown=(CSV, SHEET)),
    Measure("available", "Available", "packages",
            "Packages that the troop has answered for so far: supplied, plus moved in, less moved out. Of a donation "
            "that the troop never holds, what was handed out and sold at stalls.",
            made=Entries(**AVAILABLE), shown=(CSV, SHEET)),
    Measure("damaged", "Damaged", "packages", "Packages reported damaged, less those exchanged for good ones.",
            made=Entries(damage=+1, exchange=-1), shown=(CSV, SHEET)),
    Measure("handed_out", "With families", "packages", "Packages families took, less those they brought back.",
            made=Entries(**TAKEN), shown=(CSV, SHEET)),
    Measure("stall", "Sold at stalls", "packages", "Packages sold at public stalls.",
            made=Entries(**AT_STALLS), shown=(CSV, SHEET)),
    also("remote", CSV, SHEET),
    Measure("sold_from_stock", "Sold from stock", "packages",
            "Packages that families took and packages sold at stalls.",
            made=Sum("handed_out", "stall")),
    also("packages_sold"),
    also("stocked_sold"),
    also("stocked_available"),
    also("remote_value"),
    also("by_hand"),
    also("by_hand_value"),
    Measure("expected_on_hand", "Should be on hand", "packages", "Available, less damaged, less what left the stock.",
            made=Sum("available", "-damaged", "-handed_out", "-stall"), shown=(CSV, SHEET)),
    Measure("on_hand", "Counted", "packages", "Packages counted at the week's end; empty where nobody counted.",
            made=Own("items", "stock.counted"), adds_up=False, shown=(CSV, SHEET)),
    Measure("on_hand_or_expected", "On hand", "packages", "The week's count, else what should be on hand.",
            made=Own("items", "stock.on_hand_or_expected")),
    Measure("missing", "Not accounted for", "packages",
            "Packages that should be on hand less packages counted; empty where nobody counted. Negative: more were "
            "counted.",
            made=Own("items", "stock.missing_of_item"),
            caution="Most often a record is late or a figure was mistyped.", shown=(CSV, SHEET)),
    Measure("sell_through", "Sell-through", "share",
            "The part of the packages available that has left the troop's stock.",
            made=Ratio("stocked_sold", "stocked_available"), divides_by="packages available", shown=(CSV, SHEET),
            has_bar=True),
    Measure("weeks_of_supply", "Weeks of supply", "weeks",
            "How long the packages on hand last at the pace of the last three weeks submitted.",
            made=Own("items", "stock.weeks_of_supply"),
            divides_by="packages sold from stock a week in the last three weeks submitted", shown=(CSV, SHEET)),
    Measure("recent_sold", "Sold from stock lately", "packages",
            "Packages sold from stock in the last three weeks submitted.",
            made=Own("items", "stock.recent_sold"), adds_up=False),
    Measure("cases", "Cases", "packages",
            "Packages divided by the packages in a case, rounded down, and what is left over."),
)

ITEM_TOTALS = (
    Measure("sold_a_week", "Sold from stock a week", "average",
            "Packages that leave the stock of all troops in a week, at the pace of its last three weeks submitted.",
            made=Own("item_totals", "area.sold_a_week")),
    Measure("weeks_of_supply", "Weeks of supply", "weeks",
            "How long the packages on hand last at the pace of the last three weeks submitted.",
            made=Own("item_totals", "area.weeks_of_supply"),
            divides_by="packages sold from stock a week in the last three weeks submitted"),
    Measure("troops_counted", "Troops that counted", "troops", "Troops with a count of the item at the week's end.",
            made=Count("missing", "is not null")),
)
