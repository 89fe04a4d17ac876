"""An open web socket, asked again at every message, and what the app hands out on it.

Comes in: a sign-in and the messages of its web socket. Goes out: the same, for as long as the sign-in holds as it was;
and which sessions and media links were handed to it.

Every message in either direction asks whether the sign-in holds as it was, and every 2 s it is asked in between. Where
it does not, the socket is closed (1008) and the page loads itself again, to the sign-in page.
"""

import asyncio
import re
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from google.protobuf.message import DecodeError  # type: ignore[import-untyped]
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

from dashboard.web.requests import Message, Receive, Scope, Send
from pipelines.accounts.accounts import Access, SignIn
from pipelines.definitions.limits import MOST_KEPT_MEGABYTES

MEDIA = re.compile(r"/media/([0-9a-f]+)(?:\.\w+)?")
ADDRESSES = frozenset({"url", "favicon", "image", "source"})  # fields of the app's messages that name what it serves
# What a browser may ask of the app on its web socket; the rest (clearing everybody's caches, stopping the server,
# reading the source's history) no screen needs.
ALLOWED = frozenset({"rerun_script", "stop_script", "file_urls_request", "app_heartbeat"})
MOST_KEPT = 5000  # media links remembered for a sign-in
LOOKED_AFTER_SECONDS = 2.0


@dataclass
class Handed:
    """What the app handed to one sign-in."""

    sessions: set[str] = field(default_factory=set)
    media: OrderedDict[str, None] = field(default_factory=OrderedDict)
    uploads: dict[str, dict[str, int]] = field(default_factory=dict)  # session → file → bytes

    def keep_upload(self, session: str, file: str, size: int) -> bool:
        """Notes that a page sends a file; False where it holds too much already."""
        kept = self.uploads.setdefault(session, {})
        if sum(kept.values()) - kept.get(file, 0) + size > MOST_KEPT_MEGABYTES * 2**20:
            return False
        kept[file] = size
        return True

    def take(self, payload: bytes, *, is_first: bool) -> str:
        """Notes what a message to the browser hands out; the session that it names, if any."""
        for found in media_in(payload):
            self.media[found] = None
        while len(self.media) > MOST_KEPT:
            self.media.popitem(last=False)
        if not is_first:
            return ""
        told = ForwardMsg.FromString(payload)
        if told.WhichOneof("type") != "new_session":
            return ""
        self.sessions.add(told.new_session.initialize.session_id)
        return str(told.new_session.initialize.session_id)


def media_in(payload: bytes) -> set[str]:
    """The media that a message to the browser points to. A link within a text is nobody's word but who typed it."""
    return set(_media_of(ForwardMsg.FromString(payload))) if b"/media/" in payload else set()


def _media_of(message: Any) -> Iterator[str]:
    for field_, value in message.ListFields():
        several = value if field_.is_repeated else [value]
        if field_.message_type is not None:
            if field_.message_type.GetOptions().map_entry:
                continue
            for one in several:
                yield from _media_of(one)
        elif field_.name in ADDRESSES:
            for one in several:
                found = MEDIA.fullmatch(one) if isinstance(one, str) else None
                if found:
                    yield found[1]


def is_allowed(payload: bytes) -> bool:
    """Whether a browser's message is of a kind that a screen needs."""
    try:
        return BackMsg.FromString(payload).WhichOneof("type") in ALLOWED
    except DecodeError:
        return False


class Watched:
    """An open web socket: every message is passed on only while the sign-in holds as it was when it opened."""

    def __init__(self, access: Access, who: SignIn, handed: Handed, receive: Receive, send: Send) -> None:
        self._access, self._who, self._handed = access, who, handed
        self._receive, self._send = receive, send
        self._is_cut = self._is_open = False
        self.session = ""

    def _holds(self, *, touch: bool = False) -> bool:
        return not self._is_cut and self._access.holds(self._who.mark, touch=touch) == self._who

    async def receive(self) -> Message:
        """The browser's next message, or that it has gone."""
        message = await self._receive()
        if message["type"] == "websocket.receive" and not self._holds(touch=True):
            await self._cut()
            return {"type": "websocket.disconnect", "code": 1008}
        if message["type"] == "websocket.receive" and not is_allowed(message.get("bytes") or b""):
            self._access.store.note_refused("message refused", who=self._who.name)
            return await self.receive()
        return message

    async def send(self, message: Message) -> None:
        """The app's message on to the browser, noting what it hands out."""
        if self._is_cut:
            return
        if message["type"] == "websocket.send":
            if not self._holds():
                await self._cut()
                return
            named = self._handed.take(message.get("bytes") or b"", is_first=not self.session)
            self.session = self.session or named
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


def keep_own_session(scope: Scope, handed: Handed) -> None:
    """Takes a session's number out of the handshake where the app did not hand it to this very sign-in."""
    kept = []
    for name, value in scope["headers"]:
        parts = [part.strip() for part in value.split(b",")]
        if name == b"sec-websocket-protocol" and len(parts) > 2 and parts[2].decode("latin-1") not in handed.sessions:
            kept.append((name, b", ".join(parts[:2])))
        else:
            kept.append((name, value))
    scope["headers"] = kept
