"""The page over a region's roll-up, behind the same gate as a book's dashboard: each sees the part they were given.

Comes in: a roll-up's folder and a port. Goes out: the page on this machine, until it is stopped. It reads the
roll-up's files, and nothing of any book; it writes nothing but who came in, beside that folder. Where a roll-up was
made anew, the next look shows it.
"""

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path
from urllib.parse import parse_qs, quote

from dashboard.data.answer import CSV, Answer
from dashboard.web import region_page, sign_in_pages
from dashboard.web.gate import HEADER, Gate
from dashboard.web.requests import Receive, Scope, Send, answer_with, refuse
from dashboard.web.server import HERE, HOSTS, bind, run
from pipelines.accounts.accounts import Access, SignIn
from pipelines.definitions.errors import Stop
from pipelines.region.papers import csv_text
from pipelines.region.people import folder_of, part_of, people_of
from pipelines.region.rolled_up import TABLES, RolledUp, mark_of, read, stated
from pipelines.region.sources import Levels

STYLE = Path(__file__).with_name("region_page.css").read_bytes()
NOTHING = Answer(404, b"There is nothing here that you may see.")
NO_PART = "Your part of the region is not in this roll-up. Ask whoever let you in whether it has been handed up."
NOT_NOW = "The region's sums cannot be shown now. Whoever keeps this page is told why; load it again a little later."
SIGN_OUT = '<a class="button second" href="/sign-out">Sign out</a>'
LEFT_OUT = "left_out"
Seen = tuple[RolledUp, Levels, Levels]  # what somebody may see, the part they were given, the part they look at


class Region:
    """What is answered to whoever has passed the gate."""

    def __init__(self, folder: Path, people: Access, said: Callable[[str], None]) -> None:
        self._folder, self._people, self._said = folder, people, said
        self._lock = threading.Lock()
        self._mark, self._read = mark_of(folder), read(folder)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            return
        if scope["type"] != "http" or scope["method"] not in {"GET", "HEAD"}:
            await refuse(scope, receive, send, NOTHING)
        elif scope["path"] == region_page.STYLE:
            await answer_with(send, Answer(200, STYLE, "text/css; charset=utf-8", (("cache-control", "max-age=3600"),)))
        elif scope["path"] == "/":
            mark = dict(scope["headers"]).get(HEADER, b"").decode()
            query = scope.get("query_string", b"").decode("latin-1")
            await answer_with(send, await asyncio.to_thread(self._page, mark, query))
        else:
            await answer_with(send, NOTHING)

    async def fetch(self, who: SignIn, path: str, query: str, asked_from: str) -> Answer:
        """A table of the part that somebody looks at, with the levels in it, as CSV."""
        return await asyncio.to_thread(self._fetched, who, path.removeprefix("/fetch/"), query, asked_from)

    def _page(self, mark: str, query: str) -> Answer:
        who = self._people.holds(mark, touch=True)
        seen = self._seen(who, query) if who else NOTHING
        return seen if isinstance(seen, Answer) else region_page.page(*seen)

    def _fetched(self, who: SignIn, name: str, query: str, asked_from: str) -> Answer:
        seen = self._seen(who, query)
        table = name.removesuffix(".csv")
        is_there = name == f"{table}.csv" and table in (*TABLES, LEFT_OUT)
        if isinstance(seen, Answer) or not is_there or (table == LEFT_OUT and seen[2]):
            self._people.store.note_refused("download refused", name, asked_from, who=who.name)
            return seen if isinstance(seen, Answer) else NOTHING
        region, _own, part = seen
        rows = region.rows(table, part, within=True) if table in TABLES else region.left_out
        self._people.store.note(who.name, "downloaded", f"{name} of {stated(part)}", asked_from)
        disposition = f"attachment; filename*=UTF-8''{quote(f'{table} of {region_page.name_of(part)}.csv')}"
        return Answer(200, csv_text(table, rows).encode(), CSV, (("content-disposition", disposition),))

    def _seen(self, who: SignIn, query: str) -> Seen | Answer:
        """What somebody may see, what they were given and the part that they ask for; else what is said instead."""
        try:
            region = self._now()
        except Stop as stop:
            self._said(str(stop))
            return sign_in_pages.page("Not to be shown now", f"<p>{NOT_NOW}</p>", 503)
        own = region.part(part_of(self._people, who) or "")
        if own is None:
            return sign_in_pages.page("Not in this roll-up", f"<p>{NO_PART}</p>{SIGN_OUT}")
        seen = region.seen_by(own)
        part = seen.part(parse_qs(query).get("part", [stated(own)])[0])
        return NOTHING if part is None else (seen, own, part)

    def _now(self) -> RolledUp:
        """The roll-up that is in the folder now; raises Stop where it cannot be read."""
        with self._lock:
            mark = mark_of(self._folder)
            if mark is None or mark != self._mark:
                self._read, self._mark = read(self._folder), mark
            return self._read


def serve(folder: Path, *, port: int, said: Callable[[str], None]) -> None:
    """Shows a region until SIGTERM or Ctrl-C; raises Stop where the folder is no roll-up or the port is taken."""
    read(folder)  # before anything is made beside it
    people = people_of(folder)
    region = Region(folder, people, said)
    listening = bind(HERE, port, next_free=False)
    said(f"Who may see which part is kept in {folder_of(folder)}.")
    at = f"http://{HERE}:{listening.getsockname()[1]}"
    run(
        Gate(region, people, region.fetch, HOSTS), people, listening, at, said,
        ask=f"musterbook region access link {folder}",
    )  # fmt: skip
