"""What the coordinator does for the book itself: its rules, copies, proof, what is kept no longer.

Comes in: what was asked for on a screen. Goes out: what became of it. Each asks anew who the viewer is and raises Stop
where it is not theirs to do.
"""

from datetime import date
from functools import lru_cache
from pathlib import Path

from dashboard.data.actions import note
from dashboard.data.snapshots import book, viewer
from pipelines.definitions.errors import Stop
from pipelines.definitions.season import Season, read_season
from pipelines.definitions.season_text import Edits, edited
from pipelines.workflow import season_change
from pipelines.workflow.season_change import Moved


def _coordinator() -> str:
    who = viewer()
    if who.troops is not None:
        raise Stop("The book itself is looked after by the coordinator.")
    return who.name


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
