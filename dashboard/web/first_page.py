"""The page where there is no book yet: see the demo, make a book here, open one, or bring a copy back.

Comes in: a folder and how a demo is invented. Goes out: the book that somebody chose, and the socket on which its
dashboard goes on. The page's own address holds a secret that only this terminal was told, and it answers on this
machine alone: whoever chooses is let in as the coordinator.
"""

import secrets
import socket
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from html import escape
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import uvicorn

from dashboard.data.answer import Answer
from dashboard.web import sign_in_pages
from dashboard.web.requests import Asked, Receive, Scope, Send, answer_with, form_of, refuse, safe
from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.definitions.season_text import Edits, edited
from pipelines.definitions.starter_season import starter_season
from pipelines.store.book import SEASON, Book, new_book
from pipelines.upkeep import copies

Invent = Callable[[Path], Book]
HOSTS = ("127.0.0.1", "localhost")
PATH = "/first"


@dataclass
class First:
    """What was chosen so far. `book` is there once it can be opened."""

    folder: Path
    invent: Invent
    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    book: Book | None = None
    fault: str = ""
    is_busy: bool = False
    stop: Callable[[], None] = lambda: None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            return
        asked = Asked(scope)
        if scope["type"] != "http" or asked.host.rpartition(":")[0] not in HOSTS:
            await refuse(scope, receive, send, Answer(403, b"This page answers on this machine only."))
            return
        send = safe(send, is_secure=False)
        if asked.path == "/sign-in/style.css":
            await answer_with(send, Answer(200, sign_in_pages.STYLE, "text/css; charset=utf-8"))
            return
        stated = await form_of(receive) if asked.method == "POST" else {}
        key = stated.get("key", "") or asked.asked_for("key")
        if asked.path != PATH or not secrets.compare_digest(key, self.key):
            await answer_with(send, Answer(404, b"Open the address that the terminal shows."))
        elif asked.method == "POST" and not asked.is_same_origin:
            await answer_with(send, Answer(403, b"Asked from another site."))
        else:
            await answer_with(send, self._answer(asked.method, stated))

    def _answer(self, method: str, stated: Mapping[str, str]) -> Answer:
        if method == "POST" and not self.is_busy and self.book is None:
            self.fault, self.is_busy = "", True
            threading.Thread(target=self._do, args=(dict(stated),), daemon=True).start()
            return sign_in_pages.away(f"{PATH}?{urlencode({'key': self.key})}")
        if self.book is not None:
            access = Access(self.book.folder)
            way = f"/sign-in/link?link={access.link(access.first_coordinator(), by='this machine')}"
            self.stop()
            return _waiting("Your book is ready", "The dashboard opens in a moment.", way)
        if self.is_busy:
            told = "This takes a moment; the demo about a minute. The page goes on by itself."
            return _waiting("Being made", told, f"{PATH}?{urlencode({'key': self.key})}")
        return self._asking()

    def _do(self, stated: Mapping[str, str]) -> None:
        """What was chosen, beside the page."""
        try:
            folder = Path(stated.get("folder", "")).expanduser() if stated.get("folder") else self.folder
            self.book = self._made(stated.get("what", ""), self.folder / folder, stated)
        except (Stop, ValueError, OSError) as fault:
            self.fault = str(fault)
        finally:
            self.is_busy = False

    def _made(self, what: str, folder: Path, stated: Mapping[str, str]) -> Book:
        if what == "demo":
            return self.invent(folder)
        if what == "open":
            book = Book(folder)
            book.season()
            return book
        if what == "copy":
            copies.restore(Path(stated.get("copy", "")).expanduser(), folder)
            return Book(folder)
        return new_book(folder, _season(stated))

    def _asking(self) -> Answer:
        """The choices."""
        told = f'<div role="alert">{escape(self.fault)}</div>' if self.fault else ""
        there = sorted(path.parent.name for path in self.folder.glob(f"*/{SEASON}"))
        free = self.folder if not any(self.folder.iterdir()) else self.folder / "book"
        opened = "".join(
            self._form("open", f"<button>Open {escape(name)}</button>", folder=str(self.folder / name))
            for name in there
        )
        own = (
            "<h2>Make a book here</h2>" + _field("title", "Name of the sale") + _field("area", "Name of the area")
            + _field("first_day", "First day of the season", "date") + _field("last_day", "Last day", "date")
            + _field("folder", "Folder for the book, new or empty", value=str(free)) + "<button>Make the book</button>"
        )  # fmt: skip
        copy = (
            "<h2>Bring a copy back</h2>" + _field("copy", "The copy's file on this machine")
            + _field("folder", "Folder for the book, new or empty", value=str(free))
            + '<button class="second">Bring it back</button>'
        )  # fmt: skip
        demo = '<button class="second">See the demo: an invented area in its sixth week</button>'
        return sign_in_pages.page(
            "Where shall we begin?",
            f"<p>There is no book in {escape(str(self.folder))} yet. A book is a folder that holds one season of one "
            f"area.</p>{told}{opened}{self._form('demo', demo, folder=str(self.folder / 'demo'))}"
            f"{self._form('new', own)}{self._form('copy', copy)}"
            "<small>Everything can be changed later, under Set up. The book lies on this machine alone; keep it on an "
            "encrypted disk.</small>",
        )

    def _form(self, what: str, body: str, **hidden: str) -> str:
        kept = "".join(
            f'<input type="hidden" name="{name}" value="{escape(value)}">'
            for name, value in {"key": self.key, "what": what, **hidden}.items()
        )
        return f'<form method="post" action="{PATH}">{kept}{body}</form>'


def _field(name: str, label: str, kind: str = "text", value: str = "") -> str:
    return (
        f'<label>{escape(label)}<input name="{name}" type="{kind}" value="{escape(value)}" maxlength="300" required>'
        "</label>"
    )


def _waiting(title: str, told: str, onward: str) -> Answer:
    return sign_in_pages.page(title, f"<p>{escape(told)}</p>", headers=(("refresh", f"2; url={onward}"),))


def _season(stated: Mapping[str, str]) -> str:
    """The season to begin with: what was typed; its items are examples, its due dates are still to be said."""
    values: dict[tuple[str, ...], Any] = {("season", name): stated.get(name, "").strip() for name in ("title", "area")}
    days: dict[tuple[str, ...], Any] = {
        ("season", name): date.fromisoformat(stated.get(name, "")) for name in ("first_day", "last_day")
    }
    if not all(values.values()):
        raise Stop("Type the name of the sale, and that of the area.")
    if days["season", "last_day"] < days["season", "first_day"]:
        raise Stop("The last day lies before the first one.")
    return edited(starter_season(), Edits({**values, **days}, {("dues",): []}))


def ask(folder: Path, listening: socket.socket, invent: Invent, said: Callable[[str], None]) -> Book:
    """Shows the page until somebody has chosen; raises Stop where it was ended before."""
    first = First(folder.resolve(), invent)
    config = uvicorn.Config(first, log_level="warning", access_log=False, lifespan="off", timeout_graceful_shutdown=2)
    server = uvicorn.Server(config)
    first.stop = lambda: setattr(server, "should_exit", True)
    said(f"There is no book in {folder} yet. Choose what to do at")
    said(f"  http://127.0.0.1:{listening.getsockname()[1]}{PATH}?{urlencode({'key': first.key})}")
    with suppress(KeyboardInterrupt):
        server.run(sockets=[listening.dup()])
    if first.book is None:
        raise Stop("Stopped; no book was made.")
    return first.book
