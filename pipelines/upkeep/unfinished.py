"""What an earlier command began and did not finish, or an older program left, is finished before anything is read.

Comes in: a book, of which a writer was broken off or the published state is another program's. Goes out: the same book,
published as this program computes it.
"""

import shutil
from collections.abc import Callable
from contextlib import suppress

from pipelines.definitions.errors import BrokenMapping, Busy, Damaged, NotABook
from pipelines.landing import kept_drafts
from pipelines.store.book import WAIT_SECONDS, Book
from pipelines.upkeep import copies, retention
from pipelines.workflow import foreign_files, take_in

LEFT_OVER = (
    ".*.making", ".rebuilding.duckdb*", ".thin.duckdb*", ".verifying.tmp", "landed/*/.*", "before/.*", "mappings/*/.*",
)  # fmt: skip
"""What was half made, or spilled."""
FINISHER = "musterbook"  # who is said to have taken in what a person had changed and not taken in


def finish(book: Book, tell: Callable[[str], None]) -> None:
    """Ends what was begun: a purge, a copy, publishing; makes figures of an older program anew. Raises Stop."""
    if book.purge_begun.exists():
        with suppress(FileNotFoundError):  # another program finished it first
            retention.finish(book, tell)
            tell("The purge that was broken off is finished.")
    if not book.purge_mark.exists():
        _publish(book, tell)
        with suppress(NotABook):
            kept_drafts.drop_others(book, {one.sha256 for one in foreign_files.waiting(book)})
    with suppress(Busy), book.alone(wait=0):
        copies.clear_left_over(book)
        for pattern in LEFT_OVER:
            for path in book.folder.glob(pattern):
                shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)


def _publish(book: Book, tell: Callable[[str], None]) -> None:
    if book.is_published_by_this_program():
        with suppress(BrokenMapping, Damaged):  # whoever reads is not kept from it by what only stops who takes in
            take_in.refresh(book, FINISHER, on_wait=tell)
    else:
        take_in.refresh(book, FINISHER, wait=WAIT_SECONDS, on_wait=tell)
