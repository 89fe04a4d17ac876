"""What the coordinator does for the book itself: its rules, copies, proof, what is kept no longer.

Comes in: what was asked for on a screen. Goes out: what became of it. Each asks anew who the viewer is and raises Stop
where it is not theirs to do.
"""

import itertools
import re
import tempfile
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path

from dashboard.data.actions import coordinator, note
from dashboard.data.snapshots import SHELF, book
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season, read_season
from pipelines.definitions.season_text import Edits, edited
from pipelines.upkeep import copies, retention
from pipelines.upkeep.proof import Proof, prove
from pipelines.upkeep.retention import Purged
from pipelines.workflow import carrying, closing, season_change
from pipelines.workflow.carrying import Carried
from pipelines.workflow.season_change import Moved

FOLDER = re.compile(r"\w[\w -]{0,99}")


def _coordinator() -> str:
    return coordinator("The book itself is looked after by the coordinator.")


def season_text() -> str:
    """The season's rules as they lie in the book's folder."""
    _coordinator()
    return season_change.stated(book())


def foreseen(base: str, edits: Edits) -> tuple[Season, date, list[Moved]]:
    """The season with edits, and which figures of the area it would move; raises BrokenSeason."""
    _coordinator()
    text = edited(base, edits)
    season = read_season(text)
    return season, *_foreseen(book().current_snapshot(), text)


@lru_cache(8)
def _foreseen(_snapshot: Path, text: str) -> tuple[date, list[Moved]]:
    return season_change.foreseen(book(), read_season(text))


def keep_season(base: str, edits: Edits) -> None:
    """Keeps edits that began from the text `base`, and publishes; raises Stop."""
    who = _coordinator()
    note("season's rules changed", ", ".join(".".join(path) for path in edits.places()))
    season_change.keep(book(), base, edits, who)


def keep_season_text(base: str, text: str) -> None:
    """Keeps the whole season as text, and publishes; raises Stop."""
    who = _coordinator()
    note("season's rules changed", "as text")
    season_change.keep_text(book(), base, text, who)


def copied() -> tuple[str, bytes, str]:
    """The whole book as one file, read back and checked: its name, bytes and kind; for whom is the caller's to ask."""
    with tempfile.TemporaryDirectory(prefix="musterbook-copy-") as folder:
        done = copies.backup(book(), Path(folder) / "copy.tar")
        name = f"{book().folder.resolve().name} {datetime.now(UTC).astimezone():%Y-%m-%d %H%M}.book.tar"
        return name, done.path.read_bytes(), "application/x-tar"


def proofs() -> list[Proof]:
    """The book gone through from end to end; nobody else can write in it meanwhile."""
    _coordinator()
    note("book proved")
    return prove(book())


def next_folder() -> str:
    """A name for the next season's folder that nothing has yet."""
    here = book().folder.resolve()
    names = (f"{here.name}-next{number}" for number in itertools.count(1))
    return next(name for name in names if not (here.parent / name).exists())


def may_come_along() -> list[str]:
    """Who could be let into the next season's book."""
    _coordinator()
    return [one.name for one in carrying.may_sign_in(book())]


def carry(name: str, people: list[str]) -> Carried:
    """Makes the next season's book in a new folder beside this one; raises Stop."""
    who = _coordinator()
    if people and not SHELF.is_fresh():
        raise Stop("Sign in again first: codes are issued.")
    if not FOLDER.fullmatch(name.strip()):
        raise Stop("Give the folder a plain name: letters, digits, spaces, - and _.")
    note("next season's book begun", name)
    return carrying.carry(book(), book().folder.resolve().parent / name.strip(), who, people)


def purge(*, early: bool) -> Purged:
    """Removes participants' rows, files and papers for good; raises Stop before the time, unless `early`."""
    who = _coordinator()
    if not SHELF.is_fresh():
        raise Stop("Sign in again first: what is removed does not come back.")
    note("purge begun")
    return retention.purge(book(), who, datetime.now(UTC).astimezone().date(), early=early)


def is_purged() -> bool:
    """Whether the book's season is over."""
    return retention.purged(book()) is not None


def open_matters() -> list[str]:
    """What a purge before its time would lose, in sentences."""
    _coordinator()
    return list(closing.unfinished(book()))
