"""The pages before the app: sign-in, coming in by a one-time link, signing out. Plain HTML, no script.

Comes in: what a request asks. Goes out: an Answer. It knows nothing of accounts; see gate.
"""

from html import escape
from pathlib import Path
from urllib.parse import quote

from dashboard.data.answer import Answer

STYLE = Path(__file__).with_name("sign_in_pages.css").read_bytes()
POLICY = (
    "default-src 'none'; style-src 'self'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
MISFIT = "This name and code do not fit together. Look at both once more."
NO_ANSWER = "Your organisation's sign-in does not answer. Try again later, or sign in with your code."
NOT_KNOWN = (
    "Your organisation's sign-in did not open an account here. Ask your coordinator whether your address is known."
)
USED = "This link has been used, or is too old. Ask for a new one, or sign in with your code."


def page(
    title: str, body: str, status: int = 200, headers: tuple[tuple[str, str], ...] = (), style: str = ""
) -> Answer:
    """A page of ours around what it says; `style`: where rules of its own lie."""
    own = f'<link rel="stylesheet" href="{style}">' if style else ""
    html = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)} · Musterbook</title>"
        f'<link rel="icon" href="data:,"><link rel="stylesheet" href="/sign-in/style.css">{own}</head>'
        f"<body><main><h1>{escape(title)}</h1>{body}</main></body></html>"
    )
    return Answer(status, html.encode(), "text/html; charset=utf-8", (("content-security-policy", POLICY), *headers))


def sign_in(onward: str = "/", *, name: str = "", fault: str = "", wait: float = 0.0, other: bool = False) -> Answer:
    """The sign-in form; with a fault above it, or how long to wait. `other`: there is an organisation's own sign-in."""
    status, headers = 200, tuple[tuple[str, str], ...]()
    if wait > 0:
        seconds = int(wait) + 1
        fault = f"{fault or MISFIT} Wait {seconds} {'second' if seconds == 1 else 'seconds'}, then try again."
        status, headers = 429, (("retry-after", str(seconds)),)
    elif fault:
        status = 401
    told = f'<div role="alert">{escape(fault)}</div>' if fault else ""
    theirs = '<a class="button second" href="/sign-in/organisation">Sign in with your organisation</a>' if other else ""
    return page(
        "Sign in",
        f"<p>With the name and the personal code that your coordinator gave you.</p>{told}"
        '<form method="post" action="/sign-in">'
        f'<input type="hidden" name="next" value="{escape(onward)}">'
        f'<label for="name">Name</label><input id="name" name="name" value="{escape(name)}" autocomplete="username" '
        'autocapitalize="none" spellcheck="false" maxlength="80" required>'
        '<label for="code">Code</label><input id="code" name="code" type="password" autocomplete="current-password" '
        'autocapitalize="none" spellcheck="false" maxlength="60" required>'
        f"<button>Sign in</button></form>{theirs}"
        "<small>Code lost? Ask your coordinator for a new one. You stay signed in on this device for up to a week, and "
        "for 12 hours after you last used it (a coordinator for 2).</small>",
        status,
        headers,
    )


def by_link(secret: str) -> Answer:
    """Asks before a one-time link is used up, since programs that look at links ahead would use it up."""
    return page(
        "Come in",
        "<p>This link lets you in once, without a code.</p>"
        '<form method="post" action="/sign-in/link">'
        f'<input type="hidden" name="link" value="{escape(secret)}"><button autofocus>Come in</button></form>',
    )


def sign_out(name: str) -> Answer:
    """Asks whether to sign out here or everywhere."""
    return page(
        "Sign out",
        f"<p>You are signed in as {escape(name)}.</p>"
        '<form method="post" action="/sign-out"><button>Sign out</button>'
        '<button class="second" name="everywhere" value="yes">Sign out on all my devices</button></form>'
        '<a class="button second" href="/">Stay signed in</a>',
    )


def away(to: str, *headers: tuple[str, str]) -> Answer:
    """Sends a browser on to a path of ours."""
    return Answer(303, b"", headers=(("location", quote(to, safe="/?=&%#")), *headers))


def onward_to(stated: str) -> str:
    """A path of ours that somebody may be sent on to; anything else becomes the front page."""
    is_ours = stated.startswith("/") and not stated.startswith(("//", "/\\", "/sign-")) and stated.isprintable()
    return stated if is_ours and len(stated) <= 500 else "/"
