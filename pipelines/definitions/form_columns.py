"""Columns that the form carries beside the contract's to help whoever fills it in, and the sheet that a marked-up copy
has in front; nothing in them is ever counted.

Comes in: a sheet and a header. Goes out: whether the header is one of these. They are passed over without a word,
any other unknown header is told or refused.
"""

from functools import cache

from pipelines.definitions.columns import fold

TO_MEND = "To mend"  # a marked-up copy that is mended and sent back carries this sheet along
INTO_BANK = "into our own bank"  # stands above the column of card money
MOST_ABOVE = 40  # characters of an item's title that the form writes above its code
HELPS: dict[str, tuple[str, ...]] = {
    "stock": (
        "Title", "Price", "Last count", "Of week to", "Was there before", "Supplied this week", "Should be on hand",
        "Difference", "In words",
    ),
    "families": ("Owed before", "Worth this week", "Owes now"),
    "stalls": ("Worth of packages", "Short (-) or over"),
}  # fmt: skip


def is_help(table_name: str, header: str) -> bool:
    """Whether a header of a submission's sheet is one of the form's own."""
    return fold(header) in _folded(table_name)


@cache
def _folded(table_name: str) -> frozenset[str]:
    return frozenset(fold(name) for name in HELPS.get(table_name, ()))
