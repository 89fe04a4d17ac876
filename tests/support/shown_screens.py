"""A screen run without a browser, and what a person reads on it."""

import re
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard.data import snapshots
from pipelines.figures.figures import Figures
from pipelines.figures.viewer import COORDINATOR
from pipelines.store.book import Book

APP = Path(dashboard.__file__).with_name("app.py")
SIX = date(2027, 3, 21)  # the demo's sixth week, its latest

# Every AppTest would read about each package that is installed, which takes as long as most screens.
pytest.MonkeyPatch().setattr(
    manifest_scanner, "scan_component_manifests", cache(manifest_scanner.scan_component_manifests)
)


def shown(name: str, **address: str) -> AppTest:
    """A screen of the book that is open, as if by its address."""
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.switch_page(f"screens/{name}.py")
    for key, value in address.items():
        at.query_params[key] = value
    return sound(at.run())


def shown_of(book: Book, name: str, **address: str) -> AppTest:
    """A screen of a book, for the coordinator."""
    snapshots.open_book(book, lambda: COORDINATOR)
    return shown(name, **address)


def sound(at: AppTest) -> AppTest:
    """The same, if nothing went wrong on it."""
    assert not at.exception, [one.value for one in at.exception]
    return at


def text(at: AppTest) -> str:
    """Everything said on a screen, as it is read."""
    parts = [one.value for kind in (at.markdown, at.caption, at.info, at.success, at.warning) for one in kind]
    said = re.sub(r"\\([^\w\s])", r"\1", "\n".join(parts)).replace("**", "")
    return said.replace("\u2060", "").replace(":small[", "").replace(":gray[", "")


def metrics(at: AppTest) -> dict[str, str]:
    """The figures shown large, by their labels."""
    return {one.label: one.value.replace("\\", "") for one in at.metric}


def table(at: AppTest, *columns: str) -> pd.DataFrame:
    """The first table that has these columns."""
    return next(one.value for one in at.dataframe if set(columns) <= set(one.value.columns))


def figures(book: Book, relation: Any, day: date = SIX) -> list[dict[str, Any]]:
    """A relation's published rows of a day, as the coordinator sees them."""
    with book.reading() as con:
        return Figures(con, COORDINATOR).rows(relation, day)
