"""One page in Chromium, and when it stands still: what browser tests and the benchmark of screens share."""

from collections.abc import Callable
from dataclasses import dataclass, field

from playwright.sync_api import BrowserContext, Page, expect

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
OURS = ("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:")
SENTENCE = "h4"  # the state of things, first on every screen
Sizes = {"wide": (1440, 900), "phone": (390, 844)}
PHONE = {"width": 390, "height": 844}
TROOP = "0448"  # whose leader signs in
Enter = Callable[..., BrowserContext]


@dataclass
class Look:
    """One browser page, with whatever it complained of and whatever it asked others for."""

    page: Page
    address: str
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)

    def open(self, screen: str = "", query: str = "") -> None:
        """Opens a screen by its address and waits until it can be read."""
        self.page.goto(f"{self.address}/{screen}{query}")
        self.settle()

    def settle(self) -> None:
        """Waits until the screen stands and nothing is being worked on."""
        self.page.wait_for_selector(SENTENCE)
        self.page.wait_for_selector("[data-testid=stApp][data-test-script-state=notRunning]")
        self.page.wait_for_function("!document.querySelector('[data-stale=true]')")

    def sideways(self) -> int:
        """By how many pixels the page is wider than the window."""
        wide: int = self.page.evaluate("document.scrollingElement.scrollWidth - innerWidth")
        return wide


def settle(page: Page) -> None:
    """Waits until the screen stands and nothing is being worked on."""
    page.wait_for_selector("h1, h2, h3, h4")
    page.wait_for_function("!document.querySelector('[data-testid=stStatusWidget]')")
    page.wait_for_function("!document.querySelector('[data-stale=true]')")
    expect(page.get_by_role("button", name="Stop", exact=True)).to_have_count(0)


def go(page: Page, group: str, title: str) -> None:
    """Opens a screen by the navigation."""
    page.get_by_role("button", name=group, exact=True).click()
    page.get_by_role("menuitem", name=title, exact=True).click()
    page.get_by_role("heading", name=title, exact=True).wait_for()
    settle(page)
