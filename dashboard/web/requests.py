"""What a request says of itself, and how it is answered: the small change of the gate.

Comes in: an ASGI scope and its messages. Goes out: an Asked, the fields of a form, an Answer sent.
"""

import asyncio
from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from http.cookies import CookieError
from typing import Any
from urllib.parse import parse_qs

from starlette.requests import cookie_parser

from dashboard.data.answer import Answer
from pipelines.definitions.limits import FORM_SECONDS, MOST_FORM_BYTES, UPLOAD_SECONDS

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Asgi = Callable[[Scope, Receive, Send], Awaitable[None]]

SECURE_COOKIE, COOKIE = "__Host-musterbook", "musterbook"
SAFE = (
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
)
ONLY_TLS = ("strict-transport-security", "max-age=31536000")  # where TLS is told, a browser never asks without it again
OF_OURS = (
    ("cache-control", "no-store"),
    ("content-security-policy", "default-src 'none'; frame-ancestors 'none'; base-uri 'none'"),
)


class Asked:
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
        self.origin = f"{'https' if self.is_secure else 'http'}://{self.host}"
        self.is_same_origin = said.get("origin") == self.origin
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


def cookie_of(
    asked: Asked, name: str, value: str, seconds: int, *, path: str = "/", strict: bool = False
) -> tuple[str, str]:
    """The header that sets a cookie which no script reads; for TLS only where the request came by TLS."""
    secure = "; Secure" if asked.is_secure else ""
    same = "Strict" if strict else "Lax"
    return "set-cookie", f"{name}={value}; Path={path}; Max-Age={seconds}; HttpOnly; SameSite={same}{secure}"


async def form_of(receive: Receive) -> dict[str, str]:
    """The fields of a small form; nothing where it is larger than a form of ours, or does not come in time."""
    body = await body_of(receive, MOST_FORM_BYTES) or b""
    return {name: values[0] for name, values in parse_qs(body.decode("utf-8", "replace"), max_num_fields=10).items()}


async def body_of(receive: Receive, most: int) -> bytes | None:
    """What a request brings; None where it is larger than `most` bytes, breaks off or does not come in time."""
    try:
        return await asyncio.wait_for(_body_of(receive, most), FORM_SECONDS)
    except TimeoutError:
        return None


async def _body_of(receive: Receive, most: int) -> bytes | None:
    body = bytearray()
    while True:
        message = await receive()
        body += message.get("body", b"")
        if len(body) > most or message["type"] == "http.disconnect":
            return None
        if not message.get("more_body"):
            return bytes(body)


def in_time(receive: Receive) -> Receive:
    """The same, where a body that stops coming is taken for a browser that has gone."""

    async def receiving() -> Message:
        try:
            return await asyncio.wait_for(receive(), UPLOAD_SECONDS)
        except TimeoutError:
            return {"type": "http.disconnect"}

    return receiving


async def answer_with(send: Send, answer: Answer) -> None:
    """Sends an Answer; it is kept by no browser, and nothing in it is run, unless it says so itself."""
    own = {name for name, _value in answer.headers}
    more = [pair for pair in OF_OURS if pair[0] not in own]
    headers = [("content-type", answer.kind), ("content-length", str(len(answer.body))), *more, *answer.headers]
    encoded = [(name.encode(), value.encode("latin-1")) for name, value in headers]
    await send({"type": "http.response.start", "status": answer.status, "headers": encoded})
    await send({"type": "http.response.body", "body": answer.body})


async def refuse(scope: Scope, receive: Receive, send: Send, answer: Answer) -> None:
    """Turns a request away with an Answer, or a web socket before it is open."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
    else:
        await answer_with(send, answer)


def safe(send: Send, *, is_secure: bool) -> Send:
    """The same headers on every answer, the app's and ours."""
    return _with(send, [*SAFE, *((ONLY_TLS,) if is_secure else ())])


def not_kept(send: Send) -> Send:
    """An answer of the app that no browser keeps."""
    return _with(send, [("cache-control", "no-store")])


def _with(send: Send, headers: Sequence[tuple[str, str]]) -> Send:
    ours = [(name.encode(), value.encode()) for name, value in headers]
    names = {name for name, _value in ours}

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            theirs = [pair for pair in message.get("headers", []) if pair[0].lower() not in names]
            message = {**message, "headers": [*theirs, *ours]}
        await send(message)

    return sending
