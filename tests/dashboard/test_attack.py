"""What one leader sends never stops the house: others look and send meanwhile, and nothing of theirs is lost."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from blown_up import CASES
from canaries import canary_book
from leader_client import Somebody, drop_workbook
from running_server import running
from streamlit.proto.WidgetStates_pb2 import WidgetState

from pipelines.accounts.accounts import Access
from pipelines.figures.viewer import COORDINATOR
from pipelines.store.book import Book
from pipelines.workflow import looking_back

WORST = ("distance", "text", "findings", "labels on the cover", "families", "accents on a letter")


@pytest.fixture(scope="module")
def access(tmp_path_factory: pytest.TempPathFactory) -> Access:
    access = Access(canary_book(tmp_path_factory.mktemp("attacked")).book.folder)
    for name in ("attacker", "our"):
        access.add(name, "leader", ["0417"], by="tests")
    return access


@pytest.fixture(scope="module")
def at(access: Access) -> Iterator[str]:
    with running(access.store.path.parent) as server:
        yield server.address


def enter(access: Access, at: str, name: str) -> Somebody:
    found = access.enter_by_link(access.link(name, by="tests"))
    assert isinstance(found, tuple)
    return Somebody(at, found[1])


def attack(somebody: Somebody, name: str, told: list[bytes]) -> None:
    with somebody.session() as session:
        session.run("send_week")
        told.append(drop_workbook(somebody, session, CASES[name].payload(), CASES[name].name))


def test_the_worst_uploads_at_once_stop_nobody(access: Access, at: str) -> None:
    told: list[bytes] = []
    attackers = [enter(access, at, "attacker") for _ in WORST]
    threads = [
        threading.Thread(target=attack, args=(one, name, told)) for one, name in zip(attackers, WORST, strict=True)
    ]
    ours = enter(access, at, "our")
    for thread in threads:
        thread.start()
    with ours.session() as session:
        assert b"Our standing" in session.run("our_standing")
        session.run("send_week")
        field = next(one for one in sorted(session.widgets) if one.endswith("on_hand"))
        session.run("send_week", widgets=[WidgetState(id=field, double_value=11.0)])
        assert b"What you report" in press(session, "look") or b"What changes" in press(session, "look")
        assert b"counts from now on" in press(session, "send")
    for thread in threads:
        thread.join(180)
    assert len(told) == len(WORST), "each of the attacker's own pages was answered too"
    refused = [page for page in told if b"This file cannot be used" in page or b"looked over already" in page]
    assert len(refused) >= 2
    for one in (ours, *attackers):
        one.http.close()
    book = Book(Path(access.store.path.parent))
    with looking_back.figures(book, COORDINATOR) as figures:
        assert len(figures.facts("submitted", "0417")) == 3


def press(session, key: str) -> bytes:
    button = next(one for one in sorted(session.widgets) if one.endswith(f"-{key}"))
    return session.run("send_week", widgets=[WidgetState(id=button, trigger_value=True)])
