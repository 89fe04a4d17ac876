"""A dashboard that runs, and a browser that looks at it. Without the browser these tests fail; none is skipped."""

from collections.abc import Callable, Iterator

import pytest
from browsing import ARGUMENTS, CHROMIUM, OURS, PHONE, SENTENCE, TROOP, Enter, Look, Sizes
from playwright.sync_api import Browser, BrowserContext, sync_playwright
from running_server import Running, running_copy

from pipelines.accounts.accounts import Access
from pipelines.store.book import Book


@pytest.fixture(scope="session")
def served(demo_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo's dashboard, on a copy of the book."""
    with running_copy(demo_book.folder, tmp_path_factory.mktemp("served") / "book") as one:
        yield one


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield one
        one.close()


@pytest.fixture(scope="session")
def signed_in(browser: Browser, served: Running) -> str:
    """What the browser knows after signing in, as a file's text."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.entrance)
    page.get_by_role("button", name="Come in").click()
    page.wait_for_selector(SENTENCE)
    state = context.storage_state()
    context.close()
    return state  # type: ignore[return-value]


@pytest.fixture
def look(browser: Browser, served: Running, signed_in: str) -> Iterator[Callable[..., Look]]:
    """Opens a page of a size and a colour scheme, already signed in."""
    made = []

    def begin(size: str = "wide", scheme: str = "light") -> Look:
        width, height = Sizes[size]
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,  # type: ignore[arg-type]
            storage_state=signed_in,
        )
        context.set_default_timeout(30_000)
        one = Look(context.new_page(), served.address)
        one.page.on("console", lambda said: one.complaints.append(said.text) if said.type == "error" else None)
        one.page.on("pageerror", lambda fault: one.complaints.append(str(fault)))
        one.page.on("request", lambda asked: None if asked.url.startswith(OURS) else one.strangers.append(asked.url))
        made.append(context)
        return one

    yield begin
    for context in made:
        context.close()


@pytest.fixture(scope="module")
def access(served: Running) -> Access:
    """The accounts of the book that is served."""
    access = Access(served.book)
    for name, role, troops in (("leader", "leader", [TROOP]), ("boss", "coordinator", []), ("visitor", "viewer", [])):
        if access.person(name) is None:
            access.add(name, role, troops, by="tests")
    return access


@pytest.fixture
def enter(access: Access, browser: Browser, served: Running) -> Iterator[Enter]:
    """A browser in which an account is signed in."""
    opened = []

    def let_in(name: str, **how: object) -> BrowserContext:
        found = access.enter_by_link(access.link(name, by="tests"))
        assert isinstance(found, tuple)
        context = browser.new_context(viewport=PHONE, **how)  # type: ignore[arg-type]
        context.set_default_timeout(30_000)
        context.add_cookies([{"name": "musterbook", "value": found[1], "url": served.address, "httpOnly": True}])
        opened.append(context)
        return context

    yield let_in
    for context in opened:
        context.close()
