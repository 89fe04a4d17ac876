"""What an earlier command began and did not finish, or an older program left, is finished before anything is read.

Comes in: a book, of which a writer was broken off or the published state is another program's. Goes out: the same book,
published as this program computes it.
"""

from collections.abc import Callable
from contextlib import suppress

from pipelines.definitions.errors import BrokenMapping
from pipelines.store.book import WAIT_SECONDS, Book
from pipelines.workflow import take_in

FINISHER = "musterbook"  # who is said to have taken in what a person had changed and not taken in


def finish(book: Book, tell: Callable[[str], None]) -> None:
    """Publishes what was taken in and not published, and figures of an older program anew; raises Stop."""
    if book.is_published_by_this_program():
        with suppress(BrokenMapping):  # whoever reads is not kept from it by what only stops who takes in
            take_in.refresh(book, FINISHER, on_wait=tell)
    else:
        take_in.refresh(book, FINISHER, wait=WAIT_SECONDS, on_wait=tell)
