"""Stands before the app: whoever is not signed in gets no further than the sign-in page, on every kind of request.

Comes in: every request and web socket. Goes out: our own answers, or the app's to somebody who is signed in. It also
ties what the app hands out to the sign-in that it was handed to: a session's number, a place to upload to, a media
link. An open web socket is asked again at every message, and looked after in between.

What ends here: all but `/sign-in...`, its style and `/health`. Who asks is told to the app in a header that no request
can set. Posts and web sockets must come from our own origin; only paths that are known go on. The framework's media
links are bearer links: here each works only for the sign-in whose own web socket named it. One-time links ask for a
click: programs that look at links ahead would use them up.
"""

import asyncio
import re
import secrets
from collections import Counter
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Protocol
from urllib.parse import quote, urlencode

from itsdangerous import BadSignature, URLSafeSerializer, URLSafeTimedSerializer

from dashboard.data import typed_week
from dashboard.data.answer import Answer
from dashboard.web import sign_in_pages
from dashboard.web.front_page import addresses, home
from dashboard.web.requests import (
    Asgi,
    Asked,
    Receive,
    Scope,
    Send,
    answer_with,
    body_of,
    cookie_of,
    form_of,
    in_time,
    not_kept,
    refuse,
    safe,
)
from dashboard.web.socket_guard import Handed, Watched, keep_own_session
from dashboard.web.turns import Full, Turns
from pipelines.accounts.accounts import LONGEST_SECONDS, Access, Refused, SignIn
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import (
    DOWNLOADS,
    DOWNLOADS_OF_ALL,
    MOST_LEADER_MEGABYTES,
    SOCKETS,
    SOCKETS_OF_AN_ADDRESS,
    TYPED,
    UPLOADS,
    UPLOADS_OF_AN_ADDRESS,
)

Fetch = Callable[[SignIn, str, str, str], Awaitable[Answer]]  # who, path, query, address → what may be fetched

HEADER = b"x-musterbook-sign-in"  # tells the app who is signed in; the gate takes out whatever a request says itself
DEVICE = "musterbook-known"
KEPT, KEPT_SECONDS = "musterbook-organisation", 600  # what a browser takes to the organisation's sign-in and back
DEVICE_SECONDS = 180 * 24 * 3600
STREAM = "/_stcore/stream"
UPLOAD = re.compile(r"/_stcore/upload_file/([^/]+)/([^/]+)")
MEDIA = re.compile(r"/media/([0-9a-f]+)(?:\.\w+)?")
APPS = re.compile(r"/static/.+|/_stcore/(?:health|host-config)|/[\w-]+\.(?:png|json|ico|svg)")
TRIES_AT_ONCE = 2  # hashing a code takes a core for a moment


class Provider(Protocol):
    """An organisation's own sign-in, see organisation.Organisation."""

    def begin(self, origin: str) -> tuple[str, str]:
        """Where to send the browser, and what it must bring back."""

    def finish(self, origin: str, kept: str, query: str) -> tuple[str, float]:
        """The verified address, and when that ends; raises Stop."""


class Gate:
    """The gate of one book. `hosts`: the names by which it may be asked; None: any (a proxy in front has a name)."""

    def __init__(
        self,
        app: Asgi,
        access: Access,
        fetch: Fetch,
        hosts: frozenset[str] | None,
        organisation: Provider | None = None,
    ) -> None:
        self._app, self._access, self._fetch, self._hosts = app, access, fetch, hosts
        self._organisation, self._other = organisation, organisation is not None
        self._kept = URLSafeTimedSerializer(access.device_secret(), salt="organisation")
        self._pages = addresses()
        self._handed: dict[SignIn, Handed] = {}  # a changed sign-in is another: it is handed nothing of before
        self._trying = asyncio.Semaphore(TRIES_AT_ONCE)
        # Threads of their own: whoever wants to come in does not wait for papers that others have made.
        self._trials = ThreadPoolExecutor(TRIES_AT_ONCE, "sign-in")
        self._uploads, self._uploads_from = Turns(UPLOADS), Turns(UPLOADS_OF_AN_ADDRESS)
        self._weeks = Turns(TYPED)
        self._downloads, self._downloads_of_all = Turns(DOWNLOADS), Turns(DOWNLOADS_OF_ALL)
        self._sockets: Counter[str] = Counter()
        self._devices = URLSafeSerializer(access.device_secret(), salt="known device")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        asked = Asked(scope)
        is_socket = scope["type"] == "websocket"
        if not is_socket:
            send = safe(send, is_secure=asked.is_secure)
        if (
            self._hosts is not None
            and asked.host.rpartition(":")[0] not in self._hosts
            and asked.host not in self._hosts
        ):
            await refuse(scope, receive, send, Answer(403, b"This dashboard answers on this machine only."))
        elif (is_socket or asked.method not in {"GET", "HEAD"}) and not asked.is_same_origin:
            await refuse(scope, receive, send, Answer(403, b"Asked from another site."))
        elif is_socket:
            await self._socket(asked, scope, receive, send)
        else:
            await self._request(asked, scope, receive, send)

    # requests

    async def _request(self, asked: "Asked", scope: Scope, receive: Receive, send: Send) -> None:
        answer = await self._own(asked, receive)
        if answer is not None:
            await answer_with(send, answer)
            return
        who = self._access.signed_in(asked.cookie)
        if who is None:
            await answer_with(send, _to_the_door(asked, is_page=asked.path in self._pages))
        elif asked.path.startswith("/fetch/"):
            await answer_with(send, await self._fetched(asked, who))
        elif asked.path == home(who.role):
            await answer_with(send, sign_in_pages.away(f"/?{asked.query}" if asked.query else "/"))
        elif asked.path == typed_week.PATH:
            await answer_with(send, await self._typed(asked, who, receive))
        elif fault := self._fault(asked, who):
            await answer_with(send, fault)
        else:
            _tell(scope, who)
            sending = send if asked.path.startswith("/static/") else not_kept(send)
            if asked.method != "PUT":
                await self._app(scope, receive, sending)
                return
            try:
                async with self._uploads.of(who.name), self._uploads_from.of(asked.address):
                    await self._app(scope, in_time(receive), sending)
            except Full:
                self._access.store.note_refused("upload refused", "many at once", asked.address, who=who.name)
                await answer_with(send, Answer(429, b"Many files are on their way already: wait for them."))

    async def _fetched(self, asked: "Asked", who: SignIn) -> Answer:
        """What somebody fetches, in turn."""
        try:
            async with self._downloads.of(who.name), self._downloads_of_all.of("all"):
                return await self._fetch(who, asked.path, asked.query, asked.address)
        except Full:
            self._access.store.note_refused("download refused", "many at once", asked.address, who=who.name)
            return Answer(429, b"Many papers are being made for you already: wait for them.")

    async def _typed(self, asked: "Asked", who: SignIn, receive: Receive) -> Answer:
        """What a device typed into a week's form, in turn; where it is turned away the form tries again by itself."""
        try:
            async with self._weeks.of(who.name):
                return await _typed(asked, who, receive)
        except Full:
            self._access.store.note_refused("typing refused", "many at once", asked.address, who=who.name)
            return Answer(429, b"Much is being kept for you already: wait a moment.")

    def _fault(self, asked: "Asked", who: SignIn) -> Answer | None:
        """Why a request of somebody who is signed in does not reach the app; None: it may."""
        handed = self._handed.get(who, Handed())
        if media := MEDIA.fullmatch(asked.path):
            is_theirs = media[1] in handed.media and asked.method in {"GET", "HEAD"}
            return None if is_theirs else Answer(404, b"There is nothing here.")
        if upload := UPLOAD.fullmatch(asked.path):
            return _fault_of_upload(asked, who, handed, *upload.groups())
        if asked.method in {"GET", "HEAD"} and (asked.path in self._pages or APPS.fullmatch(asked.path)):
            return None
        return Answer(404, b"There is nothing here.")

    async def _own(self, asked: "Asked", receive: Receive) -> Answer | None:  # noqa: PLR0911 - one for each address
        """The answers that need no sign-in; None: everything else."""
        match asked.method, asked.path:
            case "GET" | "HEAD", "/health":
                return Answer(200, b"ok")
            case "GET" | "HEAD", "/sign-in/style.css":
                return Answer(200, sign_in_pages.STYLE, "text/css; charset=utf-8", (("cache-control", "max-age=3600"),))
            case "GET" | "HEAD", "/sign-in":
                if self._access.signed_in(asked.cookie):
                    return sign_in_pages.away("/")
                return sign_in_pages.sign_in(sign_in_pages.onward_to(asked.asked_for("next")), other=self._other)
            case "GET" | "HEAD", "/sign-in/again":
                who = self._access.signed_in(asked.cookie)
                onward = sign_in_pages.onward_to(asked.asked_for("next"))
                return sign_in_pages.sign_in(onward, name=who.name if who else "", other=self._other)
            case "GET" | "HEAD", "/sign-in/link":
                return sign_in_pages.by_link(asked.asked_for("link"))
            case "GET", "/sign-in/organisation" if self._organisation:
                return await self._to_organisation(asked, self._organisation)
            case "GET", "/sign-in/organisation/back" if self._organisation:
                return await self._from_organisation(asked, self._organisation)
            case "POST", "/sign-in":
                return await self._sign_in(asked, await form_of(receive))
            case "POST", "/sign-in/link":
                return await self._by_link(asked, await form_of(receive))
            case _, "/sign-out":
                return self._sign_out(asked, await form_of(receive) if asked.method == "POST" else None)
        return None

    async def _sign_in(self, asked: "Asked", stated: dict[str, str]) -> Answer:
        name, onward = stated.get("name", "").strip(), sign_in_pages.onward_to(stated.get("next", ""))
        async with self._trying:
            found = await self._tried(
                self._access.enter, name, stated.get("code", ""), asked.address, self._device(asked, name)
            )
        if isinstance(found, Refused):
            return sign_in_pages.sign_in(
                onward, name=name[:80], fault=sign_in_pages.MISFIT, wait=found.wait, other=self._other
            )
        known = self._devices.dumps([found[0].name, secrets.token_hex(8)])
        device = cookie_of(asked, DEVICE, str(known), DEVICE_SECONDS, path="/sign-in", strict=True)
        return self._let_in(asked, found, onward, device)

    async def _tried(self, enter: Callable[..., Any], *stated: str) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self._trials, enter, *stated)

    def _device(self, asked: "Asked", name: str) -> str:
        """The mark that this account left on this device, if any."""
        try:
            stated = self._devices.loads(asked.cookies.get(DEVICE, ""))
        except BadSignature:
            return ""
        return stated[1] if stated[0] == name.casefold() else ""

    async def _by_link(self, asked: "Asked", stated: dict[str, str]) -> Answer:
        found = await self._tried(self._access.enter_by_link, stated.get("link", ""), asked.address)
        if isinstance(found, Refused):
            return sign_in_pages.sign_in(fault=sign_in_pages.USED, wait=found.wait, other=self._other)
        return self._let_in(asked, found, "/")

    async def _to_organisation(self, asked: "Asked", organisation: Provider) -> Answer:
        """Sends the browser to the organisation's own sign-in."""
        try:
            url, kept = await asyncio.to_thread(organisation.begin, asked.origin)
        except (Stop, OSError, ValueError):
            return sign_in_pages.sign_in(fault=sign_in_pages.NO_ANSWER, other=True)
        cookie = cookie_of(asked, KEPT, str(self._kept.dumps(kept)), KEPT_SECONDS, path="/sign-in")
        return Answer(303, headers=(("location", url), cookie))

    async def _from_organisation(self, asked: "Asked", organisation: Provider) -> Answer:
        """The browser comes back: its address, if verified, opens the account that has it, while that holds."""
        try:
            kept = self._kept.loads(asked.cookies.get(KEPT, ""), max_age=KEPT_SECONDS)
            email, ends_at = await asyncio.to_thread(organisation.finish, asked.origin, kept, asked.query)
        except (BadSignature, Stop, OSError):
            self._access.store.note("nobody", "sign-in refused", "by the organisation's sign-in", asked.address)
            return sign_in_pages.sign_in(fault=sign_in_pages.NOT_KNOWN, other=True)
        found = await asyncio.to_thread(self._access.enter_verified, email, ends_at, asked.address)
        if isinstance(found, Refused):
            return sign_in_pages.sign_in(fault=sign_in_pages.NOT_KNOWN, other=True)
        return self._let_in(asked, found, "/", cookie_of(asked, KEPT, "", 0, path="/sign-in"))

    def _let_in(self, asked: "Asked", found: tuple[SignIn, str], onward: str, *more: tuple[str, str]) -> Answer:
        before = self._access.signed_in(asked.cookie)
        if before:  # somebody else on this device, or the same again
            self._end(before, asked.address)
        return sign_in_pages.away(onward, cookie_of(asked, asked.cookie_name, found[1], int(LONGEST_SECONDS)), *more)

    def _sign_out(self, asked: "Asked", stated: dict[str, str] | None) -> Answer:
        who = self._access.signed_in(asked.cookie)
        if who is None:
            return sign_in_pages.away("/sign-in")
        if stated is None:
            return sign_in_pages.sign_out(who.name)
        if stated.get("everywhere"):
            self._access.sign_out_everywhere(who.name, by=who.name)
        self._end(who, asked.address)
        gone = cookie_of(asked, asked.cookie_name, "", 0)
        return sign_in_pages.away("/sign-in", gone, ("clear-site-data", '"cache", "storage"'))

    def _end(self, who: SignIn, address: str) -> None:
        self._access.leave(who.mark, address)
        self._handed.pop(who, None)

    # web sockets

    async def _socket(self, asked: "Asked", scope: Scope, receive: Receive, send: Send) -> None:
        who = self._access.signed_in(asked.cookie)
        if who is None or asked.path != STREAM:
            await refuse(scope, receive, send, Answer(403))
            return
        pages = {f"account {who.name}": SOCKETS, f"address {asked.address}": SOCKETS_OF_AN_ADDRESS}
        if any(self._sockets[whose] >= most for whose, most in pages.items()):
            self._access.store.note_refused("page refused", "many open at once", asked.address, who=who.name)
            await refuse(scope, receive, send, Answer(429))
            return
        self._sockets.update(pages.keys())
        try:
            await self._watched(who, scope, receive, send)
        finally:
            self._sockets.subtract(pages.keys())
            self._sockets += Counter()  # those of nobody go

    async def _watched(self, who: SignIn, scope: Scope, receive: Receive, send: Send) -> None:
        """An open web socket, until it ends."""
        for one in [one for one in self._handed if self._access.holds(one.mark) != one]:
            del self._handed[one]
        handed = self._handed.setdefault(who, Handed())
        _tell(scope, who)
        keep_own_session(scope, handed)
        watched = Watched(self._access, who, handed, receive, send)
        looking = asyncio.create_task(watched.look_after())
        try:
            await self._app(scope, watched.receive, watched.send)
        finally:
            looking.cancel()
            handed.uploads.pop(watched.session, None)


def _fault_of_upload(asked: Asked, who: SignIn, handed: Handed, session: str, file: str) -> Answer | None:
    """Why a file is not taken on; None: it is."""
    if who.role == "viewer" or session not in handed.sessions or asked.method not in {"PUT", "DELETE"}:
        return Answer(403, b"Nothing can be sent here.")
    if asked.method == "DELETE":
        handed.uploads.get(session, {}).pop(file, None)
        return None
    if who.role != "leader":
        return None
    if not 0 < asked.length <= MOST_LEADER_MEGABYTES * 2**20:
        return Answer(413, f"A file may have {MOST_LEADER_MEGABYTES} MB at most.".encode())
    if not handed.keep_upload(session, file, asked.length):
        return Answer(413, b"This page holds many files already: load it again.")
    return None


def _to_the_door(asked: Asked, *, is_page: bool) -> Answer:
    """The sign-in page for whoever wants a page; for anything else, that there is nothing without signing in."""
    if asked.method not in {"GET", "HEAD"} or not (is_page or asked.wants_page):
        return Answer(401, b"Sign in first.")
    onward = asked.path + (f"?{asked.query}" if asked.query else "")
    stated = "" if onward == "/" else "?" + urlencode({"next": onward}, quote_via=quote)
    return sign_in_pages.away("/sign-in" + stated)


async def _typed(asked: Asked, who: SignIn, receive: Receive) -> Answer:
    """What a device typed into a week's form is kept, or what is kept is told."""
    if asked.method not in {"GET", "POST"}:
        return Answer(404, b"There is nothing here.")
    body = await body_of(receive, typed_week.MOST_BYTES) if asked.method == "POST" else None
    if asked.method == "POST" and body is None:
        return Answer(413, b"This is more than a form holds.")
    return await typed_week.answer(who, asked.query, body)


def _tell(scope: Scope, who: SignIn) -> None:
    """Tells the app who is signed in, in place of whatever the request claims."""
    others = [(name, value) for name, value in scope["headers"] if name.replace(b"_", b"-") != HEADER]
    scope["headers"] = [*others, (HEADER, who.mark.encode())]
