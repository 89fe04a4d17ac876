"""A region to try things on: three councils with four small areas each, invented, each closed by itself.

Comes in: a new folder. Goes out: a book for each area in folders that name its levels, with the roll-up of its newest
week in it.
"""

from pathlib import Path
from tempfile import TemporaryDirectory

import demo_warehouse
from demo_warehouse.season import AREA
from pipelines.definitions.errors import Stop
from pipelines.landing.arrivals import Progress
from pipelines.reports.rollup import latest_day, roll_up
from pipelines.store.book import new_book, operator
from pipelines.workflow import take_in

COUNCILS = {
    "north": ("Aldermere", "Brackenside", "Coldbrook", "Dunfell"),
    "middle": ("Eastleigh Moor", "Fernhollow", "Greywater", "Hazelbank"),
    "south": ("Ivybridge Down", "Juniper Hill", "Kestrel Cove", "Larkfield"),
}
TROOPS, WEEKS = 6, 4


def make_region(folder: Path, progress: Progress) -> int:
    """Makes the books and roll-ups of all areas; how many. Raises Stop where the folder is not new or empty."""
    if folder.exists() and any(folder.iterdir()):
        raise Stop(f"{folder} is not empty. Choose a new folder for the region.")
    named = [(council, area) for council, areas in COUNCILS.items() for area in areas]
    for number, (council, area) in enumerate(named, 1):
        progress("Inventing areas", number, len(named))
        place = folder / f"council={council}" / f"area={area}"
        with TemporaryDirectory() as made:
            demo_warehouse.make(
                Path(made), troops=TROOPS + number % 4, until_week=WEEKS, seed=number, formats="bulk-parquet"
            )
            text = (Path(made) / "season.toml").read_text(encoding="utf-8")
            book = new_book(place, text.replace(AREA, f"{area} area"))
            take_in.ingest(book, [Path(made) / "inbox"], operator())
        roll_up(book, latest_day(book))
    return len(named)
