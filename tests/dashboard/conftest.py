"""What tests of screens share: a book is closed behind each."""

from collections.abc import Callable, Iterator

import pytest
from shown_screens import shown_of
from streamlit.testing.v1 import AppTest

from dashboard.data import snapshots


@pytest.fixture
def screen() -> Iterator[Callable[..., AppTest]]:
    """Opens a screen of a book, as if by its address, for the coordinator."""
    yield shown_of
    snapshots.open_book(None)
