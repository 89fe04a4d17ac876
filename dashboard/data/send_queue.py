"""What leaders send, taken in together: many weeks sent at once are one turn of the one writer.

Comes in: files, each with its sender, the week it is about and the troops it may speak of. Goes out: for each what
became of it, when that is certain. New figures are published after that: at once on a quiet evening, every few seconds
on a busy one, so that nobody waits for the figures of all troops before she knows that hers have come in.

A server that dies before it has published does so at its next start. Until then the page says that the figures follow
and shows no form to fill in again. When the file lands, inside the transaction, the writer itself refuses one that
speaks of a troop its sender has no part in.
"""

import hashlib
import logging
import tempfile
import threading
import time
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pipelines.definitions.errors import Stop
from pipelines.store.book import Book
from pipelines.workflow import take_in
from pipelines.workflow.preview import Preview, Rows
from pipelines.workflow.slip_questions import Landed
from pipelines.workflow.take_in import Outcome

MOST_AT_ONCE = 100
PUBLISHED_EVERY = 30.0  # seconds, at most so often
AGAIN = 1.0  # seconds until publishing is tried again where somebody else writes

About = tuple[str, date]  # troop and the week's end


log = logging.getLogger("musterbook.dashboard")


@dataclass(frozen=True)
class _Letter:
    payload: bytes
    name: str
    sender: str
    troops: frozenset[str]
    about: About
    found: Preview | None
    answer: "Future[Outcome]"

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.payload).hexdigest()


class SendQueue:
    """The letters of one book that wait for the writer, and the thread that takes them in."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._waiting: list[_Letter] = []
        self._come = threading.Condition()
        self._is_closed = False
        self._unpublished: set[About] = set()
        self._landed: dict[About, tuple[int, Preview]] = {}  # the newest file's number, and what it says
        self._publish_at = 0.0
        self._clerk = threading.Thread(target=self._work, daemon=True, name="send queue")
        self._clerk.start()

    def send(
        self,
        payload: bytes,
        name: str,
        sender: str,
        troops: frozenset[str],
        about: About,
        found: Preview | None = None,
        *,
        wait: float = 180.0,
    ) -> Outcome:
        """What became of a file; raises Stop where it could not be taken in, or speaks of troops that it may not.

        `found`: what it says, as it was judged before it was sent.
        """
        letter = _Letter(payload, name, sender, troops, about, found, Future())
        with self._come:
            if self._is_closed:
                raise Stop("The dashboard is being stopped. Send again when it is back; your draft is kept.")
            self._waiting.append(letter)
            self._come.notify()
        try:
            return letter.answer.result(timeout=wait)
        except TimeoutError:
            raise Stop("The book is busy. Look at this page again in a minute before you send again.") from None

    def follows(self, about: About) -> bool:
        """Whether a troop's week has come in, and the figures with it are still to be published."""
        return about in self._unpublished

    def landed(self, about: About, *, after: int) -> Rows | None:
        """What a troop's week says that has come in, where that is a newer file than `after`, which is published."""
        file_no, found = self._landed.get(about, (0, None))
        return found.rows if found and file_no > after else None

    def weeks(self, troop: str) -> set[date]:
        """The weeks of a troop that have come in lately."""
        return {day for one, day in self._landed if one == troop}

    def lately(self, troops: frozenset[str]) -> list[Landed]:
        """The weeks of troops that have come in lately: all whose figures are not published, and maybe some more."""
        landed = self._landed.items()
        return [Landed(file_no, troop, found.sheets) for (troop, _), (file_no, found) in landed if troop in troops]

    def close(self) -> None:
        """Lets the clerk finish what has come, and takes nothing more."""
        with self._come:
            self._is_closed = True
            self._come.notify()
        self._clerk.join(timeout=60)

    def _work(self) -> None:
        while True:
            with self._come:
                until = max(self._publish_at - time.monotonic(), 0.0) if self._unpublished else None
                self._come.wait_for(lambda: self._waiting or self._is_closed, until)
                batch, self._waiting = self._waiting[:MOST_AT_ONCE], self._waiting[MOST_AT_ONCE:]
                is_last = self._is_closed and not self._waiting
            if batch:
                self._take_in(batch)
            if self._unpublished and (is_last or time.monotonic() >= self._publish_at):
                self._publish()
            if is_last:
                return

    def _publish(self) -> None:
        """New figures; what stops them is logged, and tried again after a while."""
        try:
            is_done = take_in.refresh(self._book, "dashboard")
        except Exception:  # the clerk goes on: what has come in is certain
            log.exception("figures are not published")
            self._publish_at = time.monotonic() + PUBLISHED_EVERY
            return
        if is_done:
            # a run that began before still reads what was published then: the last weeks are kept for it
            self._landed = {about: told for about, told in self._landed.items() if about in self._unpublished}
            self._unpublished = set()
        self._publish_at = time.monotonic() + (PUBLISHED_EVERY if is_done else AGAIN)

    def _take_in(self, batch: list[_Letter]) -> None:
        try:
            outcomes = self._ingest(batch)
        except take_in.Astray as astray:
            if len(batch) == 1:
                batch[0].answer.set_exception(Stop(str(astray)))
                return
            for letter in batch:  # one of them is astray: the others must not wait for it in vain
                self._take_in([letter])
        except Exception as fault:  # whoever waits is told; the clerk goes on
            for letter in batch:
                letter.answer.set_exception(fault)
        else:
            self._unpublished = self._unpublished | {one.about for one in batch if outcomes[one.digest].file_no}
            for letter in batch:
                outcome = outcomes[letter.digest]
                if letter.found is not None and outcome.status == "taken in":
                    self._landed = self._landed | {letter.about: (outcome.file_no, letter.found)}
                letter.answer.set_result(outcome)

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
            found = take_in.ingest(self._book, paths, senders, only=only, publishes=False)
        return {one.sha256: one for one in found}
