"""What one leader sends never stops the house: others look and send meanwhile, and nothing of theirs is lost."""

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
from blown_up import CASES
from canaries import canary_book
from leader_client import Somebody, drop_workbook, look_typed_over, send_week
from running_server import running
from websockets.exceptions import InvalidStatus

from pipelines.accounts.accounts import Access
from pipelines.definitions.limits import DOWNLOADS, HEADER_SECONDS, SOCKETS

WORST = ("distance", "text", "findings", "labels on the cover", "families", "accents on a letter")


@pytest.fixture(scope="module")
def access(tmp_path_factory: pytest.TempPathFactory) -> Access:
    access = Access(canary_book(tmp_path_factory.mktemp("attacked")).book.folder)
    for name in ("attacker", "our", "other"):
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
        assert b"Send this week" in session.run("send_week", query="send=2")
        typed = [["stock", "GLA", "on_hand", "", "11"]]
        kept = ours.http.post("/week?troop=0417&week=2027-02-21", json=typed, headers={"Origin": at})
        assert kept.status_code == 200
        assert b"Send this week" in look_typed_over(session, query="send=2")
        assert b"counts from now on" in send_week(session, query="send=2")
    for thread in threads:
        thread.join(180)
    assert len(told) == len(WORST), "each of the attacker's own pages was answered too"
    refused = [page for page in told if b"This file cannot be used" in page or b"looked over already" in page]
    assert len(refused) >= 2
    for one in (ours, *attackers):
        one.http.close()


HALF = {
    "headers": b"GET /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ",
    "a sign-in": b"POST /sign-in HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nContent-Length: 900\r\n\r\nname=",
}


@pytest.mark.parametrize("what", HALF)
def test_half_sent_requests_do_not_take_the_server_out(at: str, what: str) -> None:
    """500 of them, and everybody else is served at once; each ends by itself."""
    host = at.removeprefix("http://")
    name, port = host.split(":")
    sent = HALF[what].replace(b"%s", host.encode())
    with contextlib.ExitStack() as held:
        opened = []
        for _ in range(500):
            one = held.enter_context(socket.create_connection((name, int(port)), timeout=30))
            one.sendall(sent)
            opened.append(one)
        begun = time.perf_counter()
        assert httpx.get(f"{at}/health", timeout=30).status_code == 200
        assert httpx.get(f"{at}/sign-in", timeout=30).status_code == 200
        assert time.perf_counter() - begun < HEADER_SECONDS
        last = opened[-1]
        last.settimeout(6 * HEADER_SECONDS)
        with contextlib.suppress(ConnectionResetError):
            while last.recv(65_536):
                pass  # an answer to what has come of it; then the end


def test_many_downloads_do_not_hold_up_a_sign_in(access: Access, at: str) -> None:
    code, attacker = access.renew("other", by="tests"), enter(access, at, "attacker")
    cookies = {"musterbook": attacker.cookie}

    def fetch(_number: int) -> int:
        return httpx.get(f"{at}/fetch/statement.pdf?week=2&troop=0417", cookies=cookies, timeout=120).status_code

    with ThreadPoolExecutor(60) as many:
        fetching = [many.submit(fetch, number) for number in range(60)]
        stated = {"name": "other", "code": code}
        came_in = httpx.post(f"{at}/sign-in", data=stated, headers={"Origin": at}, timeout=60)
        still_running = sum(not one.done() for one in fetching)
        statuses = [one.result() for one in fetching]
    assert came_in.status_code == 303
    assert still_running > 0, "she did not wait for all of them"
    assert set(statuses) == {200, 429}
    assert statuses.count(200) >= DOWNLOADS.at_once + DOWNLOADS.waiting
    log = [(one.what, one.about) for one in access.store.log() if one.what == "download refused"]
    assert len(log) <= 2
    attacker.http.close()


def test_an_account_opens_so_many_pages_and_no_more(access: Access, at: str) -> None:
    attacker, other = enter(access, at, "attacker"), enter(access, at, "other")
    with contextlib.ExitStack() as held:
        for _ in range(SOCKETS):
            held.enter_context(attacker.session())
        with pytest.raises(InvalidStatus), attacker.session():
            pass
        with other.session() as session:
            assert b"Our standing" in session.run("our_standing")
    for one in (attacker, other):
        one.http.close()


def test_an_upload_is_kept_only_so_far(access: Access, at: str) -> None:
    """A page that sends file after file without using them is told to load again; taking one back makes room."""
    attacker = enter(access, at, "attacker")
    with attacker.session() as session:
        session.run("send_week")
        headers = {"Origin": at, "X-Xsrftoken": attacker.xsrf()}

        def send(number: int, method: str = "PUT") -> int:
            files = {"file": ("x.xlsx", bytes(9_000_000))} if method == "PUT" else None
            address = f"/_stcore/upload_file/{session.session_id}/{number}"
            return attacker.http.request(method, address, files=files, headers=headers).status_code

        assert [send(number) for number in range(5)] == [204] * 4 + [413]
        assert send(0, "DELETE") == 204
        assert send(5) == 204
    attacker.http.close()
