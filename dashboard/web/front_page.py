"""The page itself, under the address of every screen, with rules for the browser that let it ask nobody else.

Comes in: a request that has passed the gate. Goes out: the page; everything else goes on to the app.
"""

import re
from base64 import b64encode
from collections.abc import Awaitable, Callable
from hashlib import sha256
from pathlib import Path

import streamlit as st
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from dashboard.parts.screen_list import screens, screens_of

Asgi = Callable[[Scope, Receive, Send], Awaitable[None]]
# Everything comes from this server and nowhere else. What the framework needs: charts are drawn by generated code
# (hence unsafe-eval), styles are set on elements (unsafe-inline for them alone), pictures and workers are made from
# blobs, and so is the script of the week's form. The page's own scripts are named by their hash. The web socket is
# named with its host, since some older browsers do not take it for 'self'.
POLICY = (
    "default-src 'self'; script-src 'self' blob: 'unsafe-eval' {hashes}; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; worker-src 'self' blob:; connect-src 'self' {socket}; "
    "object-src 'none'; base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)
INLINE = re.compile(r"<script>(.*?)</script>", re.DOTALL)
HOST = re.compile(r"[\w.-]+(?::\d+)?|\[[0-9a-f:]+\](?::\d+)?", re.IGNORECASE)
# Streamlit's page is told where its server is, so that it need not try the addresses of screens; and to load itself
# again when the gate has cut its web socket (code 1008): whoever is signed out then stands at the sign-in page. While
# nothing gets through, its question whether the server is there waits, and a line of ours says so: the window that
# Streamlit would open in between locks the page, so that nobody could type on.
TOLD = """<script>
window.__streamlit = {BACKEND_BASE_URL: window.location.origin};
window.WebSocket = class extends window.WebSocket {
  constructor(...asked) {
    super(...asked);
    this.addEventListener("close", (event) => { if (event.code === 1008) window.location.reload(); });
  }
};
{
const ask = window.fetch.bind(window);
const isQuestion = (what) => /\\/_stcore\\/(health|host-config)$/.test(new URL(what.url || what, location).pathname);
const told = document.createElement("div");
told.setAttribute("role", "status");
told.style = "position: fixed; z-index: 1000000; top: 0; left: 0; right: 0; padding: .75rem 1rem; color: #fff; "
  + "background: #7a2e04; font: 600 1rem/1.4 system-ui, sans-serif; text-align: center;";
const tell = (text) => { told.textContent = text; told.hidden = !text; document.body?.append(told); };
window.fetch = async (what, how) => {
  if (!isQuestion(what)) return ask(what, how);
  for (;;) {
    try {
      const answer = await ask(what, {...how, signal: AbortSignal.timeout(5000)});
      tell("");
      return answer;
    } catch {
      tell("No connection. This page goes on by itself as soon as it is back.");
      await new Promise((go) => setTimeout(go, 2000));
    }
  }
};
}
</script>"""
STYLE = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
# The framework names its menu's button by what it does to a side bar.
MENU = """<script>
new MutationObserver(() => {
  const button = document.querySelector('[data-testid=stExpandSidebarButton]:not([aria-label=Menu])');
  if (button) button.setAttribute("aria-label", "Menu");
}).observe(document, {childList: true, subtree: true});
</script>"""


class Front:
    """Answers the addresses of screens with the page."""

    def __init__(self, app: Asgi) -> None:
        self._app = app
        self._page = _page()
        self._addresses = addresses()
        self._hashes = " ".join(_hash(script) for script in INLINE.findall(self._page))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] in {"GET", "HEAD"} and scope["path"] in self._addresses:
            headers = {"cache-control": "no-cache", "content-security-policy": self._policy(scope)}
            await Response(self._page, media_type="text/html", headers=headers)(scope, receive, send)
        else:
            await self._app(scope, receive, send)

    def _policy(self, scope: Scope) -> str:
        """What the browser may load and run, for the name by which it asks."""
        host = dict(scope["headers"]).get(b"host", b"").decode("latin-1")
        scheme = "wss" if scope["scheme"] == "https" else "ws"
        return POLICY.format(hashes=self._hashes, socket=f"{scheme}://{host}" if HOST.fullmatch(host) else "")


def _hash(script: str) -> str:
    return f"'sha256-{b64encode(sha256(script.encode()).digest()).decode()}'"


def addresses() -> frozenset[str]:
    """The address of every screen."""
    return frozenset({"/", *(f"/{Path(one.file).stem}" for one in screens())})


def home(role: str) -> str:
    """The address of the screen where a role arrives, which the app knows as `/` alone."""
    return f"/{Path(screens_of(role)[0].file).stem}"


def _page() -> str:
    page = (Path(st.__file__).parent / "static" / "index.html").read_text(encoding="utf-8")
    page = page.replace("<title>Streamlit</title>", "<title>Musterbook</title>")
    return page.replace("<head>", f"<head>{TOLD}{MENU}<style>{STYLE}</style>", 1).replace('="./', '="/')
