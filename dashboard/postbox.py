"""What leaders send, taken in together: many weeks sent at once are one turn of the one writer, and one publishing.

Comes in: files, each with its sender and the troops it may speak of. Goes out: for each what became of it, when that is
certain. Whoever sends waits for a turn at most twice: the one under way, and her own.
"""

import hashlib
import tempfile
import threading
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path

from pipelines import flow
from pipelines.book import Book
from pipelines.errors import Stop
from pipelines.flow import Outcome

MOST_AT_ONCE = 100


@dataclass(frozen=True)
class _Letter:
    payload: bytes
    name: str
    sender: str
    troops: frozenset[str]
    answer: "Future[Outcome]"

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.payload).hexdigest()


class Postbox:
    """The letters of one book that wait for the writer, and the thread that takes them in."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._waiting: list[_Letter] = []
        self._come = threading.Condition()
        self._is_closed = False
        self._clerk = threading.Thread(target=self._work, daemon=True, name="postbox")
        self._clerk.start()

    def send(self, payload: bytes, name: str, sender: str, troops: frozenset[str], wait: float = 180.0) -> Outcome:
        """What became of a file; raises Stop where it could not be taken in, or speaks of troops that it may not."""
        letter = _Letter(payload, name, sender, troops, Future())
        with self._come:
            if self._is_closed:
                raise Stop("The dashboard is being stopped. Send again when it is back; your draft is kept.")
            self._waiting.append(letter)
            self._come.notify()
        try:
            return letter.answer.result(timeout=wait)
        except TimeoutError:
            raise Stop("The book is busy. Look at this page again in a minute before you send again.") from None

    def close(self) -> None:
        """Lets the clerk finish what has come, and takes nothing more."""
        with self._come:
            self._is_closed = True
            self._come.notify()
        self._clerk.join(timeout=60)

    def _work(self) -> None:
        while True:
            with self._come:
                self._come.wait_for(lambda: self._waiting or self._is_closed)
                if not self._waiting:
                    return
                batch, self._waiting = self._waiting[:MOST_AT_ONCE], self._waiting[MOST_AT_ONCE:]
            self._take_in(batch)

    def _take_in(self, batch: list[_Letter]) -> None:
        try:
            outcomes = self._ingest(batch)
        except flow.Astray as astray:
            if len(batch) == 1:
                batch[0].answer.set_exception(Stop(str(astray)))
                return
            for letter in batch:  # one of them is astray: the others must not wait for it in vain
                self._take_in([letter])
        except Exception as fault:  # whoever waits is told; the clerk goes on
            for letter in batch:
                letter.answer.set_exception(fault)
        else:
            for letter in batch:
                letter.answer.set_result(outcomes[letter.digest])

    def _ingest(self, batch: list[_Letter]) -> dict[str, Outcome]:
        with tempfile.TemporaryDirectory(prefix="musterbook-post-") as folder:
            paths = []
            for place, letter in enumerate(batch):
                spot = Path(folder) / f"{place:04}"
                spot.mkdir()
                (spot / letter.name).write_bytes(letter.payload)
                paths.append(spot / letter.name)
            senders = {letter.digest: letter.sender for letter in batch}
            only = {letter.digest: letter.troops for letter in batch}
            found = flow.ingest(self._book, paths, senders, only=only)
        return {one.sha256: one for one in found}
