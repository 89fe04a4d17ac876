"""Who may come in, and what they may fetch; everything else is the app's.

Comes in: a book, a host and a port. Goes out: the dashboard, until it is stopped. Nothing it serves asks another
machine for anything. Every request and web socket passes the gate before it reaches the app.

No search for cycles after each run (runner.postScriptGC off, gc.freeze() once all is imported): it went through all
that is alive and held up every other session, 85 % of the interpreter's time with 200 leaders. Behind a proxy
X-Forwarded-For and -Proto are believed from 127.0.0.1 only; the cookie is then `__Host-musterbook`, Secure. nginx.conf
beside this was run with nginx 1.22 and a certificate of our own: page, web socket and cookie as they should be.
"""

import contextlib
import errno
import gc
import importlib
import logging
import os
import resource
import signal
import socket
import threading
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import streamlit as st
import uvicorn
from streamlit.starlette import App
from streamlit.web import bootstrap

from dashboard.data import downloads, readings, snapshots
from dashboard.data.viewers import viewer_of
from dashboard.parts import words
from dashboard.web.connections import PatientProtocol
from dashboard.web.front_page import Front
from dashboard.web.gate import HEADER, Gate, Provider
from dashboard.web.requests import Asgi
from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import MOST_UPLOAD_MEGABYTES
from pipelines.figures.viewer import COORDINATOR, Viewer
from pipelines.store.book import Book

APP = Path(__file__).parents[1] / "app.py"
HERE = "127.0.0.1"
PORT = 8501
PORTS_TRIED = 50
FILES = 8192
MOST_MESSAGE_BYTES = 4 * 2**20  # on a web socket; files do not come that way
SETTINGS: dict[str, Any] = {
    "server_headless": True,
    "server_fileWatcherType": "none",
    "server_maxUploadSize": MOST_UPLOAD_MEGABYTES,
    "browser_gatherUsageStats": False,  # else every page asks another machine
    "client_toolbarMode": "viewer",
    "client_showErrorDetails": "none",
    "client_disableDataExport": True,  # its CSV holds texts that a spreadsheet runs; those on Papers do not
    "logger_enableRich": False,
    "logger_level": "error",
    "runner_magicEnabled": False,  # screens say what they show; and each run is quicker without looking for more
    "runner_postScriptGC": False,  # a search through all that is alive after each run held every other run up
}
HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})

log = logging.getLogger("musterbook.dashboard")


def make_app(book: Book, *, hosts: frozenset[str] | None = HOSTS) -> Asgi:
    """The whole dashboard of a book, gate first. `hosts`: the names by which it may be asked; None: any."""
    access = Access(book.folder)
    snapshots.open_book(book, lambda: _signed_in(access), lambda: access.is_fresh(_mark()))
    app = App(APP, lifespan=_warm, on_script_error=_said)  # also finds .streamlit/config.toml beside the script
    bootstrap.load_config_options(SETTINGS)
    return Gate(Front(app), access, downloads.fetch, hosts, _organisation())


def _organisation() -> Provider | None:
    """The organisation's own sign-in, where the environment names one; its libraries are an extra."""
    if not any(name.startswith("MUSTERBOOK_OIDC_") for name in os.environ):
        return None
    try:
        from dashboard.web.organisation_sign_in import from_environment  # noqa: PLC0415 - an extra
    except ModuleNotFoundError as fault:
        raise Stop(f"{fault.name} is missing: install Musterbook with its extra, '.[organisation]'.") from fault
    return from_environment()


def _signed_in(access: Access) -> Viewer:
    """Who looks at this run's session: the gate told the app at the handshake, the file says whether it still holds."""
    found = access.holds(_mark())
    return viewer_of(found) if found else snapshots.nobody()


def _mark() -> str:
    return st.context.headers.get(HEADER.decode()) or ""


@asynccontextmanager
async def _warm(_app: App) -> AsyncIterator[dict[str, Any]]:
    """Reads the newest figures once, so that the first person need not wait for it.

    What charts are drawn with is imported before anybody is let in: two first sessions that import it at the same time
    get in each other's way.
    """
    for name in ("pandas", "altair"):
        importlib.import_module(name)
    gc.freeze()  # what is alive by now stays alive: no search for cycles need go through it again
    threading.Thread(target=_read_ahead, daemon=True).start()
    yield {}
    snapshots.open_book(None)


def _read_ahead() -> None:
    try:
        read = readings.reading_for(COORDINATOR)
        for relation in ("area", "standing", "items", "dues"):
            read.rows(relation)
    except Stop:
        log.info("nothing to read ahead")


def _in_one_line(record: logging.LogRecord) -> bool:
    """What somebody forged breaks off before a screen begins: the terminal gets a line of it, not pages."""
    record.exc_info = None
    return True


logging.getLogger("streamlit.error_util").addFilter(_in_one_line)


def _said(fault: Exception) -> bool:
    """Whatever goes wrong on a screen is said in one sentence; what exactly stands in the log."""
    if isinstance(fault, Stop):
        st.warning(words.plain(str(fault)))
    else:
        log.error("a screen broke off", exc_info=fault)
        st.error("This screen could not be shown. Load the page again; if it happens again, tell who keeps this book.")
    return True


def serve(
    book: Book,
    *,
    host: str = HERE,
    port: int = PORT,
    next_free: bool = True,
    behind_proxy: bool = False,
    said: Callable[[str], None] = print,
    links: Sequence[str] = (),
    names: Sequence[str] = (),
    listening: socket.socket | None = None,
) -> None:
    """Runs the dashboard until SIGTERM or Ctrl-C. Raises Stop for a port that is taken or a host not ours.

    With `next_free` the next free port is taken in place of one in use. `behind_proxy`: a proxy on this machine says
    who asks, by which name and whether by TLS. `links`: accounts that a one-time link is told for, besides the
    coordinator's. `names`: by which browsers may ask for it, behind a proxy; none: by any. `listening`: a socket that
    is open already.
    """
    is_here = host in {HERE, "localhost"}
    app = make_app(book, hosts=HOSTS | set(names) if names or (is_here and not behind_proxy) else None)
    listening = listening or bind(HERE if is_here else host, port, next_free=next_free)
    aside = (
        ""
        if is_here or behind_proxy
        else "What is sent can be read on the way: put a proxy with TLS in front, as README.md shows."
    )
    at = f"http://{HERE if is_here else host}:{listening.getsockname()[1]}"
    run(app, Access(book.folder), listening, at, said, links=links, behind_proxy=behind_proxy, aside=aside)


def run(
    app: Asgi,
    access: Access,
    listening: socket.socket,
    at: str,
    said: Callable[[str], None],
    *,
    links: Sequence[str] = (),
    ask: str = "musterbook access link",
    behind_proxy: bool = False,
    aside: str = "",
) -> None:
    """Answers `at` an address until SIGTERM or Ctrl-C, having told the links that let people in.

    `ask`: the command that prints another link.
    """
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, timeout_graceful_shutdown=2, server_header=False,
        proxy_headers=behind_proxy, forwarded_allow_ips=HERE if behind_proxy else None,
        ws_max_size=MOST_MESSAGE_BYTES, timeout_keep_alive=15, http=PatientProtocol,
    )  # fmt: skip
    _allow_files()
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    said(f"The dashboard is at {at}")
    for name in (access.first_coordinator(), *links):
        if os.environ.get("JOURNAL_STREAM"):  # a service: others may read its journal
            said(f"  {name} comes in by a link that `{ask} {name}` prints")
        else:
            said(f"  {name} comes in by {at}/sign-in/link?link={access.link(name, by='this machine')}")
    said("Each link works once, within half an hour. Ctrl-C stops the dashboard.")
    if aside:
        said(aside)
    try:
        uvicorn.Server(config).run(sockets=[listening])
    except KeyboardInterrupt:
        said("The dashboard is stopped.")
    finally:
        access.store.write_counts()
        signal.signal(signal.SIGTERM, before)
        listening.close()


def _allow_files() -> None:
    """As many open files as the system lets this program have: each connection is one."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = FILES if hard == resource.RLIM_INFINITY else min(FILES, hard)
    if soft < wanted:
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def bind(host: str, port: int, *, next_free: bool) -> socket.socket:
    """A socket that listens at the port, or at the next free one."""
    for tried in range(port, port + (PORTS_TRIED if next_free else 1)):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, tried))
            listening.listen(128)
        except OSError as fault:
            listening.close()
            if fault.errno == errno.EADDRNOTAVAIL or isinstance(fault, socket.gaierror):
                raise Stop(f"--host {host}: that is no address of this machine.") from fault
            if fault.errno not in {errno.EADDRINUSE, errno.EACCES}:
                raise
        else:
            return listening
    many = f"Ports {port} to {port + PORTS_TRIED - 1} are" if next_free else f"Port {port} is"
    raise Stop(f"{many} in use by another program. Choose another with --port.")
