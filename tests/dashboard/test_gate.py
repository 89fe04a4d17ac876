"""The attack list, against the running server: unsigned nobody gets anything, a leader gets her own troops' only.

MUSTERBOOK_CANARY_REQUESTS (120): how many requests are made at random to look for other troops' words.
"""

import asyncio
import contextlib
import os
import random
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
import uvicorn
from canaries import OTHERS, canaries_in, canary_book
from leader_client import Somebody
from running_server import running
from streamlit import config
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from streamlit.proto.WidgetStates_pb2 import WidgetState
from trial import SEASON
from websockets.exceptions import ConnectionClosed, InvalidStatus

from dashboard.data import snapshots
from dashboard.data.answer import Answer
from dashboard.web import server
from dashboard.web.gate import Gate
from dashboard.web.sign_in_pages import onward_to
from dashboard.web.socket_guard import media_in
from pipelines.accounts.accounts import Access
from pipelines.store.book import new_book

PAGES = ("this_week", "who_owes", "stock", "taking_part", "troop", "submissions", "our_standing", "our_families",
         "our_stock", "send_week", "our_papers")  # fmt: skip
FETCHED = ("standing.csv", "items.csv", "families.csv", "statement.pdf", "form.xlsx")
BUTTONS = ("send", "another", "away")
RANDOM_REQUESTS = int(os.environ.get("MUSTERBOOK_CANARY_REQUESTS", "120"))

Enter = Callable[[str], Somebody]


@pytest.fixture(scope="module")
def access(tmp_path_factory: pytest.TempPathFactory) -> Access:
    """The accounts of a book whose other troops carry canaries."""
    access = Access(canary_book(tmp_path_factory.mktemp("canaries")).book.folder)
    access.add("boss", "coordinator", by="tests")
    access.add("our", "leader", ["0417"], by="tests")
    access.add("theirs", "leader", [OTHERS[0]], by="tests")
    access.add("visitor", "viewer", by="tests")
    return access


@pytest.fixture(scope="module")
def at(access: Access) -> Iterator[str]:
    """The server's address."""
    with running(access.store.path.parent) as one:
        yield one.address


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """Ends every connection that a test opened."""
    yield
    while Somebody.opened:
        Somebody.opened.pop().http.close()


@pytest.fixture
def enter(access: Access, at: str) -> Enter:
    """Lets an account in; a new sign-in each time."""

    def let_in(name: str) -> Somebody:
        found = access.enter_by_link(access.link(name, by="tests"))
        assert isinstance(found, tuple)
        return Somebody(at, found[1])

    return let_in


def refused(somebody: Somebody, **asked: object) -> bool:
    """Whether a web socket is refused before the app knows of it."""
    try:
        with somebody.session(**asked) as session:  # type: ignore[arg-type]
            session.run()
    except InvalidStatus as status:
        return status.response.status_code == 403
    return False


# nobody


def test_without_a_cookie_nothing_of_the_app_is_answered(at: str) -> None:
    paths = ["/", "/index.html", "/static/js/main.js", "/_stcore/health", "/_stcore/host-config", "/_stcore/metrics",
             "/_stcore/agent/openapi.json", "/media/0123abcd.png", "/component/x/y", "/app/static/x", "/auth/login",
             "/%2e%2e/season.toml", "//etc/passwd", "/sign-in/../this_week", "/season.toml", "/access.sqlite",
             *(f"/{page}" for page in PAGES), *(f"/fetch/{what}?troop=0417" for what in FETCHED)]  # fmt: skip
    nobody = Somebody(at)
    for path in paths:
        for method in ("GET", "HEAD", "POST", "PUT"):
            found = nobody.http.request(method, path, headers={"Origin": at})
            is_page = found.request.url.path[1:] in ("", *PAGES) and method in ("GET", "HEAD")
            assert found.status_code == (303 if is_page else 401), (method, path)
            assert len(found.content) < 100
            assert "streamlit" not in found.text.lower()
    page = nobody.get("/who_owes?week=2&troop=0417", Accept="text/html")
    assert (page.status_code, page.headers["location"]) == (303, "/sign-in?next=%2Fwho_owes%3Fweek%3D2%26troop%3D0417")


def test_without_a_cookie_there_is_no_web_socket(at: str) -> None:
    assert refused(Somebody(at))


def test_what_is_answered_to_everybody_says_nothing_else(at: str) -> None:
    nobody = Somebody(at)
    assert nobody.get("/health").text == "ok"
    for path in ("/sign-in", "/sign-in/style.css", "/sign-in/link?link=x"):
        found = nobody.get(path)
        assert found.status_code == 200
        assert not canaries_in(found.content)
        assert "area" not in found.text.lower().replace("area's coordinator", "")


@pytest.mark.parametrize("cookie", ["x", "a" * 43, "' or 1=1 --", "../../x", "%00", "=", "é"])
def test_a_forged_cookie_is_none(at: str, cookie: str) -> None:
    found = httpx.get(f"{at}/who_owes", headers={"Cookie": f"musterbook={cookie}".encode()})
    assert (found.status_code, found.headers["location"]) == (303, "/sign-in?next=%2Fwho_owes")


def test_a_mark_is_no_cookie_and_no_header_lets_in(access: Access, enter: Enter, at: str) -> None:
    """What the server keeps of a sign-in, and what the gate tells the app, are of no use to whoever finds them."""
    boss = access.signed_in(enter("boss").cookie)
    assert boss is not None
    assert Somebody(at, boss.mark).get("/").status_code == 303
    assert Somebody(at).get("/", **{"X-Musterbook-Sign-In": boss.mark}).status_code == 303
    with enter("our").session(**{"X-Musterbook-Sign-In": boss.mark, "X_Musterbook_Sign_In": boss.mark}) as session:
        told = session.run("who_owes")
    assert b"Our standing" in told
    assert not canaries_in(told)


def test_an_expired_cookie_is_none(access: Access, enter: Enter) -> None:
    somebody = enter("our")
    assert somebody.get("/").status_code == 200
    access.store.connection().execute("update sign_ins set seen_at = seen_at - 13 * 3600")
    assert somebody.get("/").status_code == 303
    assert refused(somebody)


# signing in


def test_signing_in_as_typed(access: Access, at: str) -> None:
    code = access.add("typed", "leader", ["0417"], by="tests")
    nobody = Somebody(at)
    stated = {"name": "Typed", "code": code, "next": "/our_families?week=1"}
    found = nobody.http.post("/sign-in", data=stated, headers={"Origin": at})
    assert (found.status_code, found.headers["location"]) == (303, "/our_families?week=1")
    cookies = found.headers.get_list("set-cookie")
    assert len(cookies) == 2
    for cookie in cookies:
        assert "HttpOnly" in cookie
        assert "SameSite=" in cookie
    assert nobody.get("/").status_code == 200
    out = nobody.http.post("/sign-out", headers={"Origin": at})
    assert (out.status_code, out.headers["location"]) == (303, "/sign-in")
    assert "musterbook=; " in out.headers["set-cookie"]
    access.withdraw("typed", by="tests")


def test_a_wrong_code_and_an_unknown_name_get_the_same_page(access: Access, at: str) -> None:
    access.add("known-name", "leader", ["0417"], by="tests")
    pages = []
    for name in ("known-name", "no-such-name"):
        stated = {"name": name, "code": "wrong-wrong-wrong-wrong", "next": "/"}
        found = Somebody(at).http.post("/sign-in", data=stated, headers={"Origin": at})
        assert found.status_code == 401
        assert "set-cookie" not in found.headers
        pages.append(found.text.replace(name, ""))
    assert pages[0] == pages[1]


def test_markup_in_a_name_is_shown_as_text(at: str) -> None:
    stated = {"name": '"><script>alert(1)</script>', "code": "x", "next": '"><b>'}
    found = Somebody(at).http.post("/sign-in", data=stated, headers={"Origin": at})
    assert "<script" not in found.text
    assert "<b>" not in found.text
    assert "default-src 'none'" in found.headers["content-security-policy"]


@pytest.mark.parametrize(
    "stated", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere", "/a\nb", "x", "/sign-out"]
)
def test_signing_in_leads_nowhere_else(stated: str) -> None:
    assert onward_to(stated) == "/"


def test_a_large_form_is_not_read(at: str) -> None:
    found = Somebody(at).http.post("/sign-in", content=b"name=" + b"x" * 100_000, headers={"Origin": at})
    assert found.status_code == 401


def test_another_origin_is_refused(enter: Enter, at: str) -> None:
    boss = enter("boss")
    for origin in ("https://elsewhere.example", "null", at + ".example", None):
        headers = {"Origin": origin} if origin else {}
        assert boss.http.post("/sign-out", headers=headers).status_code == 403
        assert refused(boss, origin=origin)
    assert boss.get("/").status_code == 200


def test_another_host_name_is_refused_on_ones_own_machine(enter: Enter) -> None:
    assert enter("boss").get("/", Host="elsewhere.example").status_code == 403


# being in


def test_withdrawing_ends_open_web_sockets_and_the_next_request(access: Access, enter: Enter) -> None:
    access.add("going", "leader", ["0417"], by="tests")
    going = enter("going")
    with going.session() as session:
        session.run()
        access.withdraw("going", by="tests")
        with pytest.raises(ConnectionClosed) as closed:
            session.run("our_families")
    assert closed.value.rcvd is not None
    assert closed.value.rcvd.code == 1008
    assert going.get("/_stcore/health").status_code == 401
    assert refused(going)


def test_a_web_socket_on_which_nothing_is_said_is_cut_too(access: Access, enter: Enter) -> None:
    access.add("silent", "leader", ["0417"], by="tests")
    with enter("silent").session() as session:
        session.run()
        access.sign_out_everywhere("silent", by="tests")
        with pytest.raises(ConnectionClosed):
            session.finished()


def test_another_role_works_from_the_next_click_on(access: Access, enter: Enter) -> None:
    access.add("moving", "coordinator", by="tests")
    moving = enter("moving")
    with moving.session() as session:
        assert canaries_in(session.run("who_owes"))
        access.change("moving", "leader", ["0417"], by="tests")
        with pytest.raises(ConnectionClosed):
            session.run("who_owes")
    with moving.session() as session:
        told = session.run("who_owes")
    assert b"Our standing" in told
    assert not canaries_in(told)


def test_signing_out_ends_media_links(enter: Enter, at: str) -> None:
    ours, others = enter("our"), enter("our")
    with ours.session() as session:
        session.run()
        [link, *_more] = session.media
    assert ours.get(link).status_code == 200
    assert others.get(link).status_code == 404, "a link works only for the sign-in that was told of it"
    assert Somebody(at).get(link).status_code == 401
    ours.http.post("/sign-out", headers={"Origin": at})
    assert Somebody(at, ours.cookie).get(link).status_code == 401


def test_a_session_is_not_taken_over(enter: Enter) -> None:
    """A web socket may go on with an earlier session's state only where that was the same sign-in's."""
    boss, ours = enter("boss"), enter("our")
    with boss.session() as session:
        session.run("who_owes")
        taken = session.session_id
    with ours.session(subprotocols=["streamlit", "x", taken]) as session:
        told = session.run()
        assert session.session_id != taken
        assert not canaries_in(told)
    with boss.session(subprotocols=["streamlit", "x", taken]) as session:
        session.run()
        assert session.session_id == taken


def test_a_session_does_not_outlast_a_change_of_troops(access: Access, enter: Enter) -> None:
    """What a page kept of a troop that somebody led before is not hers to come back to."""
    access.add("moved", "leader", ["0417"], by="tests")
    moved = enter("moved")
    with moved.session() as session:
        session.run()
        before = session.session_id
    access.change("moved", "leader", [OTHERS[0]], by="tests")
    with moved.session(subprotocols=["streamlit", "x", before]) as session:
        told = session.run("our_families")
        assert session.session_id != before
    assert b"0417-01" not in told


def test_messages_that_no_screen_needs_do_not_reach_the_app(access: Access, enter: Enter) -> None:
    """Clearing everybody's caches, stopping the server, cutting a connection: dropped, and written down once."""
    with enter("our").session() as session:
        session.run()
        for kind in ("clear_cache", "debug_shutdown_runtime", "debug_disconnect_websocket", "load_git_info"):
            message = BackMsg()
            setattr(message, kind, True)
            session.send(message.SerializeToString())
        session.send(b"\xff no message at all")
        assert b"Our standing" in session.run("our_standing")
    told = [(one.who, one.about) for one in access.store.log(20) if one.what == "message refused"]
    assert told == [("our", "")], "the server counts the others, and tells how many later"


def test_a_media_link_in_a_text_is_handed_to_nobody() -> None:
    """Somebody types the link of another's picture into a note, and the app shows the note."""
    typed, drawn = ForwardMsg(), ForwardMsg()
    typed.delta.new_element.markdown.body = "/media/0123abcd.png"
    typed.delta.new_element.alert.body = "look: /media/0123abcd.png"
    drawn.delta.new_element.imgs.imgs.add().url = "/media/4567cdef.png"
    assert media_in(typed.SerializeToString()) == set()
    assert media_in(drawn.SerializeToString()) == {"4567cdef"}


def test_accounts_are_changed_only_by_who_has_just_signed_in(access: Access, enter: Enter) -> None:
    boss = enter("boss")
    with boss.session() as session:
        assert b"Let somebody in" in session.run("access")
        access.store.connection().execute("update sign_ins set made_at = made_at - 20 * 60")
        told = session.run("access")
    assert b"Sign in again" in told
    assert b"Let somebody in" not in told
    again = boss.get("/sign-in/again?next=/access")
    assert 'value="boss"' in again.text
    assert 'value="/access"' in again.text


# uploads


def test_a_file_of_one_gigabyte_is_refused_before_it_is_sent(enter: Enter, at: str) -> None:
    for name, limit in (("our", 413), ("boss", 413), ("visitor", 403)):
        somebody = enter(name)
        token = somebody.xsrf()
        with somebody.session() as session:
            session.run()
            headers = {"Origin": at, "Content-Length": str(2**30), "X-Xsrftoken": token}
            path = f"/_stcore/upload_file/{session.session_id}/file"
            with contextlib.suppress(httpx.TransportError):
                found = somebody.http.put(path, content=_endless(), headers=headers)
                assert found.status_code == limit


def _endless() -> Iterator[bytes]:
    for _part in range(2**30 // 2**20):
        yield bytes(2**20)


def test_a_file_goes_to_ones_own_session_only(enter: Enter, at: str) -> None:
    boss, ours = enter("boss"), enter("our")
    with boss.session() as session:
        session.run("submissions")
        path = f"/_stcore/upload_file/{session.session_id}/file"
        found = ours.http.put(path, files={"file": ("x.csv", b"troop")}, headers={"Origin": at})
        assert found.status_code == 403
        found = boss.http.put(
            path, files={"file": ("x.csv", b"troop")}, headers={"Origin": "https://elsewhere.example"}
        )
        assert found.status_code == 403


# a leader


def test_the_control_a_coordinator_does_see_the_canaries(enter: Enter) -> None:
    boss = enter("boss")
    with boss.session() as session:
        for page in ("", "who_owes", "stock", "submissions"):
            assert canaries_in(session.run(page)), page
        told = session.run("troop", f"troop={OTHERS[4]}")
    assert len(canaries_in(told, OTHERS[4].encode())) > 5
    for what in ("standing.csv", "items.csv", "families.csv"):
        assert canaries_in(boss.get(f"/fetch/{what}").content), what


def test_a_leader_sees_her_own(enter: Enter) -> None:
    with enter("our").session() as session:
        assert b"Troop 0417" in session.run("our_papers") or b"0417" in session.run("our_papers")
        assert b"0417-01" in session.run("our_families")
        assert b"12 other troops" in session.run("our_standing")


def test_a_leader_walks_every_address_of_other_troops(enter: Enter) -> None:
    ours = enter("our")
    with ours.session() as session:
        for page in PAGES:
            for code in (OTHERS[4], "9999"):
                query = f"troop={code}&own_troop={code}&week=1&name={code}"
                assert not canaries_in(session.run(page, query), query.encode()), (page, code)
    for what in (*FETCHED, f"statements/{OTHERS[4]}.pdf", "rollup/2027-02-21/standing.csv", "../season.toml"):
        ones = [ours.get(f"/fetch/{what}?week=2&troop={code}") for code in (OTHERS[4], "9999")]
        assert [one.status_code for one in ones] in ([404, 404], [200, 200]), what
        for one in ones:
            assert not canaries_in(one.content, one.request.url.raw_path), what
        assert ones[0].content == ones[1].content, "another troop and no troop look the same"


def test_a_viewer_sees_sums_and_no_families(enter: Enter) -> None:
    visitor = enter("visitor")
    for what in FETCHED:
        assert visitor.get(f"/fetch/{what}?troop={OTHERS[0]}").status_code == 404
    with visitor.session() as session:
        for page in ("", *PAGES):
            told = session.run(page, f"troop={OTHERS[0]}")
            assert not [one for one in canaries_in(told, OTHERS[0].encode()) if b"-p" in one], page


def test_random_requests_of_a_leader_bring_not_one_canary(enter: Enter) -> None:
    """Forged pages, queries and widget states, downloads and links; 120 of them here, 10,000 when asked to."""
    chance = random.Random(417)  # noqa: S311 - no secret
    asked = 0
    while asked < RANDOM_REQUESTS:
        ours = enter("our")
        with ours.session() as session:
            session.patience = 5.0
            for _turn in range(min(40, RANDOM_REQUESTS - asked)):
                if session.is_broken:
                    break
                asked += 1
                if chance.random() < 0.25:
                    path = random_path(chance)
                    answer, question = ours.get(path).content, path.encode()
                else:
                    page, query = chance.choice(["", *PAGES, "nothing"]), random_query(chance)
                    known = sorted(session.widgets)
                    widgets = [random_state(chance, one) for one in chance.sample(known, min(3, len(known)))]
                    answer = session.run(page, query, widgets)
                    question = query.encode() + b"".join(one.SerializeToString() for one in widgets)
                assert not canaries_in(answer, question), question


def random_path(chance: random.Random) -> str:
    """A download or a link, of anybody."""
    what = chance.choice([*FETCHED, "exceptions.csv", "rollup/2027-02-21/families.csv", "../landed", "%2e%2e/x"])
    where = chance.choice(["/fetch/", "/media/", "/static/", "/", "/_stcore/"])
    troop = chance.choice([*OTHERS, "0417", "", "%27"])
    if chance.random() < 0.2:
        return f"/week?week=2027-02-{chance.choice([14, 21])}&troop={troop}"
    return f"{where}{what}?week={chance.randint(-1, 9)}&troop={troop}"


def random_query(chance: random.Random) -> str:
    names = ("troop", "own_troop", "week", "page", "participant", "file_no", "as_of", "role")
    values = (*OTHERS, "0417", "1", "2", "99", "-1", "coordinator", "' or 1=1 --", "<b>", "../..", f"{OTHERS[2]}-P1")
    return "&".join(f"{name}={chance.choice(values)}" for name in names if chance.random() < 0.5)


def random_state(chance: random.Random, widget: str) -> WidgetState:
    """A forged value of a widget: mostly of the kind it takes, sometimes of another, which only breaks the run off."""
    state = WidgetState(id=widget)
    texts = (*OTHERS, "0417", f"{OTHERS[1]}-P1", "1e999", "=1+1", "<script>alert(1)</script>", "-5", "")
    if chance.random() < 0.02:
        state.json_value = chance.choice(['{"selection": {"rows": [3]}}', "[]", "{", f'"{OTHERS[0]}"'])
    elif widget.endswith(BUTTONS):
        state.trigger_value = True
    elif "made_" not in widget and "file" not in widget:
        state.string_value = chance.choice(texts)
    return state


def test_a_week_is_kept_by_its_own_leader_only(enter: Enter, at: str) -> None:
    typed = [["families", f"{OTHERS[4]}-P1", "cash", "", "5.00"]]

    def post(somebody: Somebody, troop: str, origin: str = at, **how: object) -> httpx.Response:
        where = f"/week?troop={troop}&week=2027-02-21"
        return somebody.http.post(where, **({"json": typed} | how), headers={"Origin": origin})  # type: ignore[arg-type]

    ours = enter("our")
    for somebody, troop, status in ((ours, OTHERS[4], 404), (ours, "9999", 404), (enter("boss"), "0417", 404),
                                    (enter("visitor"), "0417", 404), (Somebody(at), "0417", 401)):  # fmt: skip
        got, sent = somebody.get(f"/week?troop={troop}&week=2027-02-21"), post(somebody, troop)
        assert (got.status_code, sent.status_code) == (status, status), troop
        assert not canaries_in(got.content + sent.content, troop.encode())
    assert post(ours, "0417", "https://elsewhere.example").status_code == 403
    assert post(ours, "0417", json=None, content=b"x" * (64 * 1024 + 1)).status_code == 413
    assert post(ours, "0417", json=None, content=b"x").status_code == 400
    assert ours.http.request("DELETE", "/week?troop=0417&week=2027-02-21", headers={"Origin": at}).status_code == 404
    assert ours.get("/week?troop=0417&week=2027-02-21").json()["version"] == 0  # nothing of all that was kept
    kept = post(ours, "0417")
    assert (kept.status_code, kept.json()["version"], kept.json()["others"]) == (200, 1, [])
    assert kept.headers["cache-control"] == "no-store"


# what is written down


def test_the_log_tells_of_refusals_and_downloads_and_holds_no_cookie(access: Access, enter: Enter) -> None:
    access.add("newcomer", "leader", ["0417"], by="tests")  # nothing was refused to it before: the first one is told
    ours = enter("newcomer")
    ours.get("/fetch/families.csv?week=2")
    ours.get(f"/fetch/statement.pdf?week=2&troop={OTHERS[0]}")
    told = [(one.who, one.what, one.about) for one in access.store.log()[:2]]
    assert told == [
        ("newcomer", "download refused", "statement.pdf"),
        ("newcomer", "downloaded", "families week 2.csv"),
    ]
    whole = "".join(path.read_text("latin-1") for path in Path(access.store.path.parent).glob("access.sqlite*"))
    assert ours.cookie not in whole


# the gate by itself


async def _app(scope: dict[str, object], receive: object, send: Callable[[dict[str, object]], object]) -> None:
    """An app that answers with what the gate told it."""
    told = [value for name, value in scope["headers"] if b"musterbook" in name.replace(b"_", b"-")]  # type: ignore[attr-defined]
    await send({"type": "http.response.start", "status": 200, "headers": []})  # type: ignore[misc]
    await send({"type": "http.response.body", "body": b",".join(told)})  # type: ignore[misc]


SAME = ("x-content-type-options", "x-frame-options", "referrer-policy", "cross-origin-opener-policy",
        "cross-origin-resource-policy")  # fmt: skip


def test_every_answer_has_the_same_headers(enter: Enter, at: str) -> None:
    ours, nobody = enter("our"), Somebody(at)
    answers = [
        ours.get("/"), ours.get("/_stcore/health"), ours.get("/media/0123.png"), ours.get("/fetch/nothing"),
        ours.get("/nowhere"), nobody.get("/"), nobody.get("/sign-in"), nobody.get("/health"), nobody.get("/stock"),
        nobody.get("/", Host="elsewhere.example"), nobody.http.post("/sign-out"),
        ours.http.put("/_stcore/upload_file/x/y", headers={"Origin": at}),
    ]  # fmt: skip
    assert {answer.status_code for answer in answers} >= {200, 303, 403, 404}
    for answer in answers:
        assert [answer.headers.get(name) is not None for name in SAME] == [True] * len(SAME), answer.url
        assert "strict-transport-security" not in answer.headers, "not told without TLS"
    policy = answers[0].headers["content-security-policy"]
    assert f"connect-src 'self' ws://{at.removeprefix('http://')};" in policy
    assert " ws: " not in policy.replace(";", " ")
    assert "'unsafe-inline'" not in policy.partition("style-src")[0]


async def _no_paper(*_asked: object) -> Answer:
    return Answer(404)


def test_behind_tls_the_cookie_is_for_tls_and_this_host_only(tmp_path: Path) -> None:
    """As a proxy's scheme is told to the gate: an https request."""
    access = Access(tmp_path)
    code = access.add("our", "leader", ["0417"], by="tests")

    async def signing_in() -> tuple[httpx.Response, httpx.Response, httpx.Response]:
        gate = Gate(_app, access, _no_paper, None)  # type: ignore[arg-type]
        transport = httpx.ASGITransport(gate)  # type: ignore[arg-type]
        async with httpx.AsyncClient(transport=transport, base_url="https://sale.example.org") as client:
            stated = {"name": "our", "code": code}
            plain = await client.post("/sign-in", data=stated, headers={"Origin": "http://sale.example.org"})
            come_in = await client.post("/sign-in", data=stated, headers={"Origin": "https://sale.example.org"})
            seen = await client.get("/our_families", headers={"X-Musterbook-Sign-In": "forged"})
            return plain, come_in, seen

    with ThreadPoolExecutor(1) as aside:  # browser tests leave a loop running in this thread
        plain, come_in, seen = aside.submit(lambda: asyncio.run(signing_in())).result()
    assert come_in.headers["strict-transport-security"] == seen.headers["strict-transport-security"]
    assert plain.status_code == 403, "the same name without TLS is another origin"
    for cookie in come_in.headers.get_list("set-cookie"):
        assert "; Secure" in cookie
        assert "HttpOnly" in cookie
    assert come_in.headers["set-cookie"].startswith("__Host-musterbook=")
    marks = [row["sign_in"] for row in access.store.rows("select sign_in from sign_ins")]
    assert seen.content.decode() in marks
    access.store.connection().close()


def test_behind_a_proxy_it_is_asked_by_its_own_name_only(tmp_path: Path) -> None:
    access = Access(tmp_path)

    async def asking() -> list[int]:
        gate = Gate(_app, access, _no_paper, frozenset({"sale.example.org"}))  # type: ignore[arg-type]
        found = []
        for host in ("sale.example.org", "elsewhere.example"):
            transport = httpx.ASGITransport(gate)  # type: ignore[arg-type]
            async with httpx.AsyncClient(transport=transport, base_url=f"https://{host}") as client:
                found.append((await client.get("/health")).status_code)
        return found

    with ThreadPoolExecutor(1) as aside:
        assert aside.submit(lambda: asyncio.run(asking())).result() == [200, 403]
    access.store.connection().close()


def test_a_service_prints_no_link_into_its_journal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(uvicorn.Server, "run", lambda *_asked, **_more: None)
    book = new_book(tmp_path / "book", SEASON)
    for journal, is_told in (("", True), ("8:12345", False)):
        monkeypatch.setenv("JOURNAL_STREAM", journal)
        said: list[str] = []
        server.serve(book, port=0, said=said.append)
        assert ("link=" in "".join(said)) == is_told
        assert ("musterbook access link coordinator" in "".join(said)) != is_told
    snapshots.open_book(None)


def test_a_book_is_for_its_owner_alone_whatever_the_umask(tmp_path: Path) -> None:
    (tmp_path / "feeds").mkdir()
    (tmp_path / "feeds" / "troops.csv").write_text("troop,level\n0417,older\n", encoding="utf-8")
    command = "import os; os.umask(0); from pipelines.cli import main; main()"
    for words in (
        ["new", "book"],
        ["ingest", "--book", "book", "feeds"],
        ["access", "add", "x", "--troop", "0417", "--book", "book"],
    ):
        subprocess.run([sys.executable, "-c", command, *words], cwd=tmp_path, check=True, stdout=subprocess.DEVNULL)
    assert (tmp_path / "book").stat().st_mode & 0o777 == 0o700
    modes = {path: path.stat().st_mode & 0o077 for path in (tmp_path / "book").rglob("*")}
    assert len(modes) > 5
    assert [path for path, open_to_others in modes.items() if open_to_others] == []


def test_every_setting_is_one_that_the_framework_has() -> None:
    """Among them that its own download of a table is off: a spreadsheet would run what stands in it."""
    for name, value in server.SETTINGS.items():
        assert value is not None
        config.get_option(name.replace("_", ".", 1))
    assert server.SETTINGS["client_disableDataExport"]
