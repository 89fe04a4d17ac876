"""Stands before the app: whoever is not signed in gets no further than the sign-in page, on every kind of request.

Comes in: every request and web socket. Goes out: our own answers, or the app's to somebody who is signed in. It also
ties what the app hands out to the sign-in that it was handed to: a session's number, a place to upload to, a media
link. An open web socket is asked again at every message, and looked after in between.
"""

import asyncio
import re
import secrets
from collections import OrderedDict
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError
from typing import Any
from urllib.parse import parse_qs, quote, urlencode

from itsdangerous import BadSignature, URLSafeSerializer
from starlette.requests import cookie_parser
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from dashboard import door
from dashboard.door import Answer
from dashboard.front import addresses
from pipelines.access import LONGEST_SECONDS, Access, Refused, SignIn

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Asgi = Callable[[Scope, Receive, Send], Awaitable[None]]
Fetch = Callable[[SignIn, str, str, str], Awaitable[Answer]]  # who, path, query, address → what may be fetched

HEADER = b"x-musterbook-sign-in"  # tells the app who is signed in; the gate takes out whatever a request says itself
SECURE_COOKIE, COOKIE, DEVICE = "__Host-musterbook", "musterbook", "musterbook-known"
DEVICE_SECONDS = 180 * 24 * 3600
STREAM = "/_stcore/stream"
UPLOAD = re.compile(r"/_stcore/upload_file/([^/]+)/[^/]+")
MEDIA = re.compile(r"/media/([0-9a-f]+)(?:\.\w+)?")
MEDIA_TOLD = re.compile(rb"/media/([0-9a-f]+)")
APPS = re.compile(r"/static/.+|/_stcore/(?:health|host-config)|/[\w-]+\.(?:png|json|ico|svg)")
MOST_FORM_BYTES = 4096
MOST_LEADER_MEGABYTES = 10
MOST_KEPT = 5000  # media links remembered for a sign-in
LOOKED_AFTER_SECONDS = 2.0
TRIES_AT_ONCE = 2  # hashing a code takes a core for a moment
SAFE = (
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
)


@dataclass
class _Handed:
    """What the app handed to one sign-in."""

    sessions: set[str] = field(default_factory=set)
    media: OrderedDict[str, None] = field(default_factory=OrderedDict)

    def take(self, payload: bytes, *, is_first: bool) -> bool:
        """Notes what a message to the browser hands out; whether it named the session."""
        for found in MEDIA_TOLD.findall(payload):
            self.media[found.decode()] = None
        while len(self.media) > MOST_KEPT:
            self.media.popitem(last=False)
        if not is_first:
            return False
        told = ForwardMsg.FromString(payload)
        if told.WhichOneof("type") != "new_session":
            return False
        self.sessions.add(told.new_session.initialize.session_id)
        return True


class Gate:
    """The gate of one book. `hosts`: the names by which it may be asked; None: any (a proxy in front has a name)."""

    def __init__(self, app: Asgi, access: Access, fetch: Fetch, hosts: frozenset[str] | None, *, other: bool = False):
        self._app, self._access, self._fetch, self._hosts, self._other = app, access, fetch, hosts, other
        self._pages = addresses()
        self._handed: dict[str, _Handed] = {}
        self._trying = asyncio.Semaphore(TRIES_AT_ONCE)
        self._devices = URLSafeSerializer(access.device_secret(), salt="known device")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        asked = _Asked(scope)
        is_socket = scope["type"] == "websocket"
        if (
            self._hosts is not None
            and asked.host.rpartition(":")[0] not in self._hosts
            and asked.host not in self._hosts
        ):
            await _refuse(scope, receive, send, Answer(403, b"This dashboard answers on this machine only."))
        elif (is_socket or asked.method not in {"GET", "HEAD"}) and not asked.is_same_origin:
            await _refuse(scope, receive, send, Answer(403, b"Asked from another site."))
        elif is_socket:
            await self._socket(asked, scope, receive, send)
        else:
            await self._request(asked, scope, receive, send)

    # requests

    async def _request(self, asked: "_Asked", scope: Scope, receive: Receive, send: Send) -> None:
        answer = await self._own(asked, receive)
        if answer is not None:
            await _answer(send, answer)
            return
        who = self._access.signed_in(asked.cookie)
        if who is None:
            await _answer(send, _to_the_door(asked))
        elif asked.path.startswith("/fetch/"):
            await _answer(send, await self._fetch(who, asked.path, asked.query, asked.address))
        elif fault := self._fault(asked, who):
            await _answer(send, fault)
        else:
            _tell(scope, who)
            await self._app(scope, receive, _with_headers(send, keep=asked.path.startswith("/static/")))

    def _fault(self, asked: "_Asked", who: SignIn) -> Answer | None:
        """Why a request of somebody who is signed in does not reach the app; None: it may."""
        handed = self._handed.get(who.mark, _Handed())
        if media := MEDIA.fullmatch(asked.path):
            is_theirs = media[1] in handed.media and asked.method in {"GET", "HEAD"}
            return None if is_theirs else Answer(404, b"There is nothing here.")
        if upload := UPLOAD.fullmatch(asked.path):
            if who.role == "viewer" or upload[1] not in handed.sessions or asked.method not in {"PUT", "DELETE"}:
                return Answer(403, b"Nothing can be sent here.")
            if asked.method == "PUT" and who.role == "leader" and not 0 < asked.length <= MOST_LEADER_MEGABYTES * 2**20:
                return Answer(413, f"A file may have {MOST_LEADER_MEGABYTES} MB at most.".encode())
            return None
        if asked.method in {"GET", "HEAD"} and (asked.path in self._pages or APPS.fullmatch(asked.path)):
            return None
        return Answer(404, b"There is nothing here.")

    async def _own(self, asked: "_Asked", receive: Receive) -> Answer | None:  # noqa: PLR0911 - one for each address
        """The answers that need no sign-in; None: everything else."""
        match asked.method, asked.path:
            case "GET" | "HEAD", "/health":
                return Answer(200, b"ok")
            case "GET" | "HEAD", "/sign-in/style.css":
                return Answer(200, door.STYLE, "text/css; charset=utf-8", (("cache-control", "max-age=3600"),))
            case "GET" | "HEAD", "/sign-in":
                if self._access.signed_in(asked.cookie):
                    return door.away("/")
                return door.sign_in(door.onward_to(asked.asked_for("next")), other=self._other)
            case "GET" | "HEAD", "/sign-in/link":
                return door.by_link(asked.asked_for("link"))
            case "POST", "/sign-in":
                return await self._sign_in(asked, await _form(receive))
            case "POST", "/sign-in/link":
                return await self._by_link(asked, await _form(receive))
            case _, "/sign-out":
                return self._sign_out(asked, await _form(receive) if asked.method == "POST" else None)
        return None

    async def _sign_in(self, asked: "_Asked", stated: dict[str, str]) -> Answer:
        name, onward = stated.get("name", "").strip(), door.onward_to(stated.get("next", ""))
        async with self._trying:
            found = await asyncio.to_thread(
                self._access.enter, name, stated.get("code", ""), asked.address, self._device(asked, name)
            )
        if isinstance(found, Refused):
            return door.sign_in(onward, name=name[:80], fault=door.MISFIT, wait=found.wait, other=self._other)
        known = self._devices.dumps([found[0].name, secrets.token_hex(8)])
        device = _cookie(asked, DEVICE, str(known), DEVICE_SECONDS, path="/sign-in", strict=True)
        return self._let_in(asked, found, onward, device)

    def _device(self, asked: "_Asked", name: str) -> str:
        """The mark that this account left on this device, if any."""
        try:
            stated = self._devices.loads(asked.cookies.get(DEVICE, ""))
        except BadSignature:
            return ""
        return stated[1] if stated[0] == name.casefold() else ""

    async def _by_link(self, asked: "_Asked", stated: dict[str, str]) -> Answer:
        found = await asyncio.to_thread(self._access.enter_by_link, stated.get("link", ""), asked.address)
        if isinstance(found, Refused):
            return door.sign_in(fault=door.USED, other=self._other)
        return self._let_in(asked, found, "/")

    def _let_in(self, asked: "_Asked", found: tuple[SignIn, str], onward: str, *more: tuple[str, str]) -> Answer:
        before = self._access.signed_in(asked.cookie)
        if before:  # somebody else on this device, or the same again
            self._end(before, asked.address)
        return door.away(onward, _cookie(asked, asked.cookie_name, found[1], int(LONGEST_SECONDS)), *more)

    def _sign_out(self, asked: "_Asked", stated: dict[str, str] | None) -> Answer:
        who = self._access.signed_in(asked.cookie)
        if who is None:
            return door.away("/sign-in")
        if stated is None:
            return door.sign_out(who.name)
        if stated.get("everywhere"):
            self._access.sign_out_everywhere(who.name, by=who.name)
        self._end(who, asked.address)
        gone = _cookie(asked, asked.cookie_name, "", 0)
        return door.away("/sign-in", gone, ("clear-site-data", '"cache", "storage"'))

    def _end(self, who: SignIn, address: str) -> None:
        self._access.leave(who.mark, address)
        self._handed.pop(who.mark, None)

    # web sockets

    async def _socket(self, asked: "_Asked", scope: Scope, receive: Receive, send: Send) -> None:
        who = self._access.signed_in(asked.cookie)
        if who is None or asked.path != STREAM:
            await _refuse(scope, receive, send, Answer(403))
            return
        for mark in [mark for mark in self._handed if not self._access.holds(mark)]:
            del self._handed[mark]
        handed = self._handed.setdefault(who.mark, _Handed())
        _tell(scope, who)
        _keep_own_session(scope, handed)
        watched = _Watched(self._access, who, handed, receive, send)
        looking = asyncio.create_task(watched.look_after())
        try:
            await self._app(scope, watched.receive, watched.send)
        finally:
            looking.cancel()


class _Watched:
    """An open web socket: every message is passed on only while the sign-in holds as it was when it opened."""

    def __init__(self, access: Access, who: SignIn, handed: _Handed, receive: Receive, send: Send) -> None:
        self._access, self._who, self._handed = access, who, handed
        self._receive, self._send = receive, send
        self._is_cut = self._is_open = self._is_named = False

    def _holds(self, *, touch: bool = False) -> bool:
        return not self._is_cut and self._access.holds(self._who.mark, touch=touch) == self._who

    async def receive(self) -> Message:
        """The browser's next message, or that it has gone."""
        message = await self._receive()
        if message["type"] == "websocket.receive" and not self._holds(touch=True):
            await self._cut()
            return {"type": "websocket.disconnect", "code": 1008}
        return message

    async def send(self, message: Message) -> None:
        """The app's message on to the browser, noting what it hands out."""
        if self._is_cut:
            return
        if message["type"] == "websocket.send":
            if not self._holds():
                await self._cut()
                return
            if self._handed.take(message.get("bytes") or b"", is_first=not self._is_named):
                self._is_named = True
        self._is_open = message["type"] != "websocket.close"
        await self._send(message)

    async def look_after(self) -> None:
        """Cuts the socket soon after the sign-in has ended or changed, even when nothing is said on it."""
        while self._holds():
            await asyncio.sleep(LOOKED_AFTER_SECONDS)
        await self._cut()

    async def _cut(self) -> None:
        if not self._is_cut:
            self._is_cut = True
            if self._is_open:
                await self._send({"type": "websocket.close", "code": 1008, "reason": "signed out"})


class _Asked:
    """What a request says of itself."""

    def __init__(self, scope: Scope) -> None:
        named: dict[bytes, bytes] = {}
        for name, value in scope["headers"]:
            named[name] = value if name not in named else named[name] + b"; " + value
        said = {name.decode("latin-1"): value.decode("latin-1") for name, value in named.items()}
        self.path: str = scope["path"]
        self.query: str = scope.get("query_string", b"").decode("latin-1")
        self.method: str = scope.get("method", "GET")
        self.host = said.get("host", "")
        self.address = (scope.get("client") or ("",))[0]
        self.is_secure = scope["scheme"] in {"https", "wss"}
        self.cookie_name = SECURE_COOKIE if self.is_secure else COOKIE
        self.wants_page = "text/html" in said.get("accept", "")
        self.is_same_origin = said.get("origin") == f"{'https' if self.is_secure else 'http'}://{self.host}"
        length = said.get("content-length", "")
        self.length = int(length) if length.isdigit() else 0
        try:
            self.cookies: dict[str, str] = cookie_parser(said.get("cookie", ""))
        except CookieError:
            self.cookies = {}
        self.cookie = self.cookies.get(self.cookie_name, "")

    def asked_for(self, name: str) -> str:
        """A value of the query; empty where it is not there."""
        return parse_qs(self.query).get(name, [""])[0]


def _to_the_door(asked: _Asked) -> Answer:
    if not asked.wants_page or asked.method != "GET":
        return Answer(401, b"Sign in first.")
    onward = asked.path + (f"?{asked.query}" if asked.query else "")
    stated = "" if onward == "/" else "?" + urlencode({"next": onward}, quote_via=quote)
    return door.away("/sign-in" + stated)


def _tell(scope: Scope, who: SignIn) -> None:
    """Tells the app who is signed in, in place of whatever the request claims."""
    others = [(name, value) for name, value in scope["headers"] if name.replace(b"_", b"-") != HEADER]
    scope["headers"] = [*others, (HEADER, who.mark.encode())]


def _keep_own_session(scope: Scope, handed: _Handed) -> None:
    """Takes a session's number out of the handshake where the app did not hand it to this very sign-in."""
    kept = []
    for name, value in scope["headers"]:
        parts = [part.strip() for part in value.split(b",")]
        if name == b"sec-websocket-protocol" and len(parts) > 2 and parts[2].decode("latin-1") not in handed.sessions:
            kept.append((name, b", ".join(parts[:2])))
        else:
            kept.append((name, value))
    scope["headers"] = kept


def _cookie(
    asked: _Asked, name: str, value: str, seconds: int, *, path: str = "/", strict: bool = False
) -> tuple[str, str]:
    secure = "; Secure" if asked.is_secure else ""
    same = "Strict" if strict else "Lax"
    return "set-cookie", f"{name}={value}; Path={path}; Max-Age={seconds}; HttpOnly; SameSite={same}{secure}"


async def _form(receive: Receive) -> dict[str, str]:
    """The fields of a small form; nothing where it is larger than a form of ours."""
    body = b""
    while True:
        message = await receive()
        body += message.get("body", b"")
        if len(body) > MOST_FORM_BYTES or message["type"] == "http.disconnect":
            return {}
        if not message.get("more_body"):
            break
    return {name: values[0] for name, values in parse_qs(body.decode("utf-8", "replace"), max_num_fields=10).items()}


async def _answer(send: Send, answer: Answer) -> None:
    own = {name for name, _value in answer.headers}
    more = () if "cache-control" in own else (("cache-control", "no-store"),)
    headers = [("content-type", answer.kind), ("content-length", str(len(answer.body))), *SAFE, *more, *answer.headers]
    encoded = [(name.encode(), value.encode("latin-1")) for name, value in headers]
    await send({"type": "http.response.start", "status": answer.status, "headers": encoded})
    await send({"type": "http.response.body", "body": answer.body})


async def _refuse(scope: Scope, receive: Receive, send: Send, answer: Answer) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
    else:
        await _answer(send, answer)


def _with_headers(send: Send, *, keep: bool) -> Send:
    """Adds our headers to the app's answer; what is not the app's own code is kept by no browser."""
    ours = [*SAFE, *(() if keep else (("cache-control", "no-store"),))]
    names = {name.encode() for name, _value in ours}

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            theirs = [pair for pair in message.get("headers", []) if pair[0].lower() not in names]
            message = {**message, "headers": [*theirs, *((n.encode(), v.encode()) for n, v in ours)]}
        await send(message)

    return sending
