"""What tests share: a book to try things on."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path

import pytest
from trial import FEEDS, SEASON, Trial, publishes, rules_alone

from demo_warehouse import make as make_season
from pipelines.definitions.limits import BULK, TROOP, Limits
from pipelines.intake.files.readers import Reader
from pipelines.landing import arrivals
from pipelines.store.book import Book, new_book
from pipelines.workflow import take_in


def pytest_xdist_auto_num_workers() -> int:
    """Half as many again as there are processors: many a test waits for a browser or for another process."""
    return (os.cpu_count() or 1) * 3 // 2


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "browser: drives a real browser (chromium)")
    config.addinivalue_line("markers", "publishes(*relations): what a publishing makes, see trial.publishes")
    config.addinivalue_line("markers", "rules(*names): which rules of exceptions there are, see trial.rules_alone")


@pytest.fixture(autouse=True)
def published(request: pytest.FixtureRequest) -> Iterator[None]:
    """What a test, or its module, says that it `publishes`, and by which `rules`; fixtures of a module know of all."""
    marked, rules = (request.node.get_closest_marker(name) for name in ("publishes", "rules"))
    with publishes(*marked.args) if marked else nullcontext(), rules_alone(*rules.args) if rules else nullcontext():
        yield


@pytest.fixture
def new_trial(tmp_path: Path) -> Callable[..., Trial]:
    """Makes an empty book in a folder of its own, of a season's text."""
    made: list[Trial] = []

    def make(season: str = SEASON) -> Trial:
        folder = tmp_path / f"trial {len(made) + 1}"
        folder.mkdir()
        made.append(Trial(folder, season))
        return made[-1]

    return make


@pytest.fixture(scope="session")
def known_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of the small season that knows troops 0417, 0031 and 1282; copied, never written in."""
    one = Trial(tmp_path_factory.mktemp("known"))
    one.send(**FEEDS)
    return one.book.folder


@pytest.fixture
def trial(new_trial: Callable[..., Trial], known_book: Path) -> Trial:
    """A book of its own of the small season that knows troops 0417, 0031 and 1282."""
    one = new_trial()
    one.begin_with(known_book)
    return one


@pytest.fixture(scope="session", autouse=True)
def readers_that_stay() -> Iterator[None]:
    """Guarded readers that are kept from one taking in to the next: a worker's start costs more than a small file."""
    kept: dict[Limits, list[Reader]] = {BULK: [], TROOP: []}

    @contextmanager
    def one_of_them(limits: Limits = BULK) -> Iterator[Reader]:
        reader = kept[limits].pop() if kept[limits] else Reader(limits)
        try:
            yield reader
        finally:
            kept[limits].append(reader)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arrivals, "Reader", one_of_them)
        yield
    for reader in [*kept[BULK], *kept[TROOP]]:
        reader.close()


@pytest.fixture(scope="session")
def demo_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """The demo's area, its submissions as bulk tables, published; nobody writes in it."""
    folder = tmp_path_factory.mktemp("demo")
    make_season(folder, formats="bulk-csv")
    book = new_book(folder / "book", (folder / "season.toml").read_text(encoding="utf-8"))
    take_in.ingest(book, [folder / "inbox"], "tests")
    return book
